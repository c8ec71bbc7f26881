// Wiring that can be simulated and is hardly meant.
#pragma once

#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// One sentence for each of: outputs that phases drive and nothing listens to, parts turned round, panels past the
/// charger, supplies beyond what a part bears or needs, a charger that is not told the temperature, an alarm that wakes
/// nothing.
std::vector<std::string> findings_of_wiring(const Scenario&);

}  // namespace overwinter
