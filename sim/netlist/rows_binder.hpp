// Rows: a list of mappings, each with the columns of its field.
//
//   phases:
//     - {name: boot, duration: 2 s, current: 8 mA}
//     - {name: measure, duration: 20 s, current: 30 mA}
#pragma once

#include "models/table.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// Replaces the field's rows by the written ones. False if there was any fault.
bool bind_rows(const Field&, const Document&, const Node::Entry&, void* parameters, Faults&);

}  // namespace overwinter
