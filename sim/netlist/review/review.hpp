// The design review: rules over the netlist, without any simulation.
#pragma once

#include <vector>

#include "sim/netlist/review/finding.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// Every finding, by theme (themes.hpp) and in each theme by part.
std::vector<DesignFinding> review(const Scenario&);

}  // namespace overwinter
