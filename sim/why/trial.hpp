// A replay that is only to say whether a brown-out is avoided.
//
// Brown-out N of a run is avoided by a change if until `until` no more than N - 1 brown-outs begin with it. `until` is
// the end of the first sunny day (sunny_days.hpp) after the episode's end, for then the light is back, or the span's
// end; where another episode begins before that, it counts as a relapse of the same death, and its end is waited for
// likewise. With a change wakes and brown-outs come at other times: hence the count, and a time at which the light is
// back, before which nothing can be told.
#pragma once

#include <cstddef>
#include <optional>

#include "sim/engine/engine_options.hpp"
#include "sim/service/service.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// The time up to which brown-out `n` (from 0) is to be avoided, in a span from `begin` to `end`.
Tick avoided_until(const ServiceRecord&, std::size_t n, const SunnyDays&, Tick begin, Tick end);

struct Trial {
  std::size_t brownouts = 0;  ///< that begin until then
  std::optional<Tick> last;   ///< when the last of them did
};

/// A replay until that time, or until more than `most` brown-outs have begun. None where it could not be completed.
std::optional<Trial> replay_until(const Scenario&, const Weather&, const EngineOptions&, Tick until, std::size_t most);

}  // namespace overwinter
