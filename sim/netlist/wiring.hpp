// Nets and lines together: every pin wired once, every needed line there, and the parts that lines bring with them.
#pragma once

#include "sim/netlist/net_reader.hpp"

namespace overwinter {

/// Reads both sections (null: not there, or a fault says why) into the scenario, whose parts are those of the Wirable
/// in the same order and whose policy is read. Adds a resistor for each pull-up, named "LINE pull-up", one for each
/// series resistor, named "LINE series", and keeps parts in name order. `lines_known` is false where a fault hides the
/// lines.
void read_wiring(const Document&, const Node::Entry* nets, const Node::Entry* lines, bool lines_known, const Wirable&,
                 Scenario&, Faults&);

}  // namespace overwinter
