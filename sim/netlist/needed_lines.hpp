// Lines without which a scenario does not do what it says: a policy that goes by the voltage needs a reading, and where
// a part can set clocks, every clock needs one that sets it; and there are inputs without which a part does nothing.
#pragma once

#include "models/policy.hpp"
#include "sim/netlist/line_reader.hpp"

namespace overwinter {

/// Adds a fault for each such line that is not there and whose absence no reported fault explains. `lines` is null
/// where the scenario has no such section, `policy` where it has none or a fault about it.
void check_needed_lines(const Document&, const Node::Entry* lines, const ReadLines&, const Wirable&,
                        const Policy* policy, Faults&);

}  // namespace overwinter
