// Wake policies that can be followed and are hardly meant.
#pragma once

#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// One sentence for each of: an emptier cell that wakes more often, rows that the cell's voltage never leaves or never
/// reaches, hysteresis wider than a row, intervals shorter than a wake.
std::vector<std::string> findings_of_policy(const Scenario&);

}  // namespace overwinter
