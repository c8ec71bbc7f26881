// Finds a moment that a run has numbered, by that run.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/scenario.hpp"
#include "sim/replay/simulate.hpp"
#include "sim/zoom/moment_text.hpp"

namespace overwinter {

struct FoundMoment {
  Tick time = 0;
  std::string occasion;  ///< "event 12: boost, lockout"
  /// What the window must contain: part and event of what was asked for, of a brown-out those of its chain from its
  /// first link on.
  std::vector<std::pair<std::string, std::string>> asked_for;
};

/// The row of events.csv; or of the brown-out what stopped feeding the controller first. Throws InputError where the
/// run has not so many.
FoundMoment find_moment(const Scenario&, const Weather&, const Diagram&, const RunOptions&, NumberedEvent);

}  // namespace overwinter
