// Curves and maps as they stand in scenario and part files.
//
//   open_circuit_voltage: {charge: 0 5 10 20 %, voltage: 3.00 3.35 3.48 3.57 V}
//   efficiency: {input: 2.5 3.5 V, load: 1 10 mA, share: [80 85 %, 82 88 %]}     one row per input, one column per load
#pragma once

#include <optional>

#include "models/table.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// None if anything is wrong with it; every reason is added to the faults.
std::optional<Curve> read_curve(const Field&, const Document&, const Node::Entry&, Faults&);
std::optional<Map> read_map(const Field&, const Document&, const Node::Entry&, Faults&);

}  // namespace overwinter
