// What a zoom is asked for.
#pragma once

#include <optional>
#include <variant>

#include "sim/zoom/moment_text.hpp"

namespace overwinter {

/// What is seen after the moment, or after the last of what is asked for, where nothing is said.
inline constexpr Tick usual_after = 4'000'000;

/// And how long after the moment that is waited for: the pairs of a cell, which settled run and transient may take to a
/// threshold at different times, have seconds to minutes.
inline constexpr Tick longest_wait = 10'000'000'000;

struct ZoomRequest {
  std::variant<Tick, NumberedEvent> moment;
  /// Length of the window before the moment, and after it where it is given; it ends with the span.
  Tick before = 1'000'000;
  std::optional<Tick> after = {};
};

}  // namespace overwinter
