#include "sim/engine/transient.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace overwinter {

namespace {

constexpr double longest_step = 0.05;  // s, well below the time constants of cells
constexpr double first_step = 1e-7;    // s, of a context that comes from a settled run
constexpr double at_rest = 0.02;       // V or A, what a net or fast state may be off
constexpr double soon = 1e-5;          // s, in which a fast state may move by so much

/// With what the solver knew of the other equations gone.
template <class Change>
Context carried_over(Simulator& from, Simulator& to, Context c, Change&& change) {
  const Context before = c;
  Evaluator& system = from.at(before);
  for (std::size_t p = 0; p < from.diagram().parts().size(); ++p) {
    const DiagramPart& part = from.diagram().parts()[p];
    Writable w{c.state.data() + part.state, c.memory.data() + part.memory, c.alarm.data() + part.alarm,
               from.moment(c.now)};
    change(part, system.model(p), system.view(p), w, c);
  }
  c.branch_sign = 0;
  c.solver.reset();
  c.landings.reset();
  c.short_steps = 0;
  to.resolve(c);
  return c;
}

/// A transient begins where the settled run stands, and nothing moves in it before something happens.
void check_rest(Simulator& settled_run, Simulator& transient, const Context& settled, const Context& inside) {
  const Diagram& diagram = transient.diagram();
  for (std::size_t n = 0; n < diagram.nets().size(); ++n) {
    if (std::abs(inside.network[n] - settled.network[n]) <= at_rest) continue;
    throw TransientRefused(
        fmt::format("{}: the fast stores do not stand as the settled run has them: net {} would jump "
                    "from {:.3f} V to {:.3f} V",
                    iso_time(inside.now, 9), diagram.nets()[n], settled.network[n], inside.network[n]));
  }
  std::vector<double> rates(diagram.states()), settled_rates(diagram.states());
  settled_run.at(settled).rates(settled_rates.data());
  transient.at(inside).rates(rates.data());
  for (const DiagramPart& part : diagram.parts()) {
    for (std::size_t s = 0; s < part.table->states.size(); ++s) {
      const State& state = part.table->states[s];
      const double rate = rates[part.state + s] - settled_rates[part.state + s];
      if (!state.fast || std::abs(rate) * soon <= at_rest) continue;
      throw TransientRefused(
          fmt::format("{}: the fast stores do not stand as the settled run has them: {} of {} would "
                      "move by {:.3g} in 10 us by itself",
                      iso_time(inside.now, 9), state.name, part.name, rate * soon));
    }
  }
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
  const std::size_t states = settled.diagram().states();
  std::vector<double> booked;
  Context inside = carried_over(settled, transient, c,
                                [&](const DiagramPart& part, const Model& m, const View& v, Writable& w, Context& to) {
                                  booked.assign(part.table->flows.size(), 0.0);
                                  m.enter_transient(v, w, booked.data());
                                  for (std::size_t f = 0; f < booked.size(); ++f)
                                    to.state[states + part.flow + f] += booked[f];
                                });
  check_rest(settled, transient, c, inside);
  inside.step = first_step;
  return inside;
}

Context leave_transient(Simulator& transient, Simulator& settled, const Context& c) {
  Context outside = carried_over(
      transient, settled, c,
      [](const DiagramPart&, const Model& m, const View& v, Writable& w, Context&) { m.leave_transient(v, w); });
  outside.step = settled.options().longest_step;
  return outside;
}

}  // namespace overwinter
