// Finds a moment that a run has numbered, by that run.
#pragma once

#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/replay/simulate.hpp"
#include "sim/zoom/moment_text.hpp"

namespace overwinter {

struct FoundMoment {
  Tick time = 0;
  std::string occasion;  ///< "event 12: boost, lockout"
};

/// The row of events.csv; or of the brown-out what stopped feeding the controller first. Throws InputError where the
/// run has not so many.
FoundMoment find_moment(const Scenario&, const Weather&, const Diagram&, const RunOptions&, NumberedEvent);

}  // namespace overwinter
