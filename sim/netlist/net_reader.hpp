// The section `nets` of a scenario.
//
//   nets:  {cell+: [cell.plus, charger.out], gnd: [cell.minus, charger.ground]}
//
// Every pin belongs to exactly one net (or, of open-drain pins and gates, one electrical line); `gnd` is the reference,
// and every net must reach it through parts.
#pragma once

#include <vector>

#include "sim/netlist/line_reader.hpp"

namespace overwinter {

/// Nets and electrical lines, in name order, pins in part order. The n-th resistor of the lines is numbered
/// parts.size() + n. Faults of pins that a reported fault explains are left out.
std::vector<ScenarioNet> read_nets(const Document&, const Node::Entry& nets, const ReadLines&, const Wirable&, Faults&);

}  // namespace overwinter
