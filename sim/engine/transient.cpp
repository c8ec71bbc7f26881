#include "sim/engine/transient.hpp"

#include <algorithm>

namespace overwinter {

namespace {

constexpr double longest_step = 0.05;  // s, well below the time constants of cells
constexpr double first_step = 1e-7;    // s, of a context that comes from a settled run

/// With what the solver knew of the other equations gone.
Context carried_over(Simulator& from, Simulator& to, Context c, void (Model::*change)(const View&, Writable&) const) {
  const Context before = c;
  Evaluator& system = from.at(before);
  for (std::size_t p = 0; p < from.diagram().parts().size(); ++p) {
    const DiagramPart& part = from.diagram().parts()[p];
    Writable w{c.state.data() + part.state, c.memory.data() + part.memory, c.alarm.data() + part.alarm,
               from.moment(c.now)};
    (system.model(p).*change)(system.view(p), w);
  }
  c.branch_sign = 0;
  c.solver.reset();
  c.landings.reset();
  c.short_steps = 0;
  to.resolve(c);
  return c;
}

}  // namespace

SimulatorOptions transient_options(SimulatorOptions settled) {
  settled.transient = true;
  settled.stepping = Stepping::stiff;
  settled.make_stepper = {};
  settled.tolerance = std::min(transient_tolerance, of_settled_tolerance * settled.tolerance);
  settled.longest_step = longest_step;
  settled.step_over_hiccups = false;
  settled.look_closer = false;
  return settled;
}

Context enter_transient(Simulator& settled, Simulator& transient, const Context& c) {
  Context inside = carried_over(settled, transient, c, &Model::enter_transient);
  inside.step = first_step;
  return inside;
}

Context leave_transient(Simulator& transient, Simulator& settled, const Context& c) {
  Context outside = carried_over(transient, settled, c, &Model::leave_transient);
  outside.step = settled.options().longest_step;
  return outside;
}

}  // namespace overwinter
