// What went through an instrument, summed over its flows.
#pragma once

#include "sim/engine/context.hpp"
#include "sim/engine/diagram.hpp"

namespace overwinter::test {

struct Sums {
  double balance = 0, stored = 0, moved = 0;  ///< J; moved: through the cell, and from the panel
  double in = 0, out = 0;                     ///< A s
};

inline Sums sums_of(const Diagram& diagram, const Context& c) {
  Sums s;
  for (const DiagramPart& part : diagram.parts()) {
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      const Flow& f = part.table->flows[i];
      const double amount = c.state[diagram.states() + part.flow + i];
      if (f.kind == FlowKind::source) s.balance += amount;
      if (f.kind == FlowKind::source || f.kind == FlowKind::throughput) s.moved += amount;
      if (f.kind == FlowKind::delivered || f.kind == FlowKind::lost) s.balance -= amount;
      if (f.kind == FlowKind::stored) s.stored += amount;
      if (f.name == "charge_in") s.in += amount;
      if (f.name == "charge_out") s.out += amount;
    }
  }
  return s;
}

}  // namespace overwinter::test
