// Pairs of parts that are each sound and together a danger: a charger and a protector that do not fit the cell.
#pragma once

#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// One sentence for each such pair, in part order. Chargers and protectors are taken to belong to the scenario's one
/// cell, whatever the wiring.
std::vector<std::string> findings_of_pairs(const Scenario&);

}  // namespace overwinter
