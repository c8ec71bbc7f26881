// The sections `nets` and `lines` of a scenario.
//
//   nets:  {cell+: [cell.plus, charger.out], gnd: [cell.minus, charger.ground]}
//   lines: {cell-temperature: {from: cell.temperature, to: charger.temperature}}      `to` may be a list
//
// Every pin belongs to exactly one net; `gnd` is the reference, and every net must reach it through parts.
#pragma once

#include <vector>

#include "sim/netlist/document.hpp"
#include "sim/netlist/part_reader.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// The parts that nets and lines may name.
struct Wirable {
  const std::vector<ReadPart>& parts;  ///< in name order
  bool complete = true;                ///< false: a part that is not found may stand where a fault hides it
};

/// In name order, pins in part order. Faults of pins that a reported fault explains are left out.
std::vector<ScenarioNet> read_nets(const Document&, const Node::Entry& nets, const Wirable&, Faults&);

/// In name order, inputs in part order.
std::vector<ScenarioLine> read_lines(const Document&, const Node::Entry& lines, const Wirable&, Faults&);

}  // namespace overwinter
