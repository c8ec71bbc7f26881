// What is sound by itself and together a danger or a mistake: a charger or protector that does not fit the cell, parts
// turned round, a policy that does not fit the cell or the controller.
#pragma once

#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// One sentence for each: pairs in part order, where chargers and protectors are taken to belong to the scenario's one
/// cell, whatever the wiring; then the wiring, then the policy.
std::vector<std::string> findings_of_pairs(const Scenario&);

}  // namespace overwinter
