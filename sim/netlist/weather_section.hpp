// Reads the weather section of a scenario.
#pragma once

#include <optional>

#include "sim/netlist/csv_layout.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// What a weather section says beside the file's name: the columns of a CSV file; none for a file in the EPW layout,
/// whose columns are known, and where there is any fault. `has_site`: the scenario says where it is; a CSV file does
/// not. Keys that are unknown are faults here; `file`, `synthetic` and `seed` are
/// the caller's.
std::optional<CsvLayout> read_csv_layout(const Document&, const Node::Entry& section, bool has_site, Faults&);

}  // namespace overwinter
