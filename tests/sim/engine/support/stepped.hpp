// Small systems with known solutions for the steppers.
#pragma once

#include <functional>
#include <utility>
#include <vector>

#include "sim/engine/stepper.hpp"

namespace overwinter::test {

/// States with rates, decay rates, flows and a stored energy as a test says.
class Stepped final : public StepSystem {
 public:
  using Vector = std::vector<double>;

  void slopes(const Vector& x, Vector& dxdt) override {
    ++evaluations;
    if (lost && lost(x)) throw BranchLost{};
    last = x;
    rates(x, dxdt);
  }
  void decay(double* rate) const override {
    for (std::size_t i = 0; i < decays.size(); ++i) rate[i] = decays[i];
  }
  double stored_energy() const override { return energy ? energy(last) : 0; }
  double usual_power() const override { return usual; }
  bool due() const override { return event && event(last); }

  std::function<void(const Vector& x, Vector& dxdt)> rates;
  std::function<double(const Vector&)> energy;
  std::function<bool(const Vector&)> event, lost;
  double usual = 0.015;  ///< W, 0.3 J in 20 s
  Vector decays, last;
  std::size_t evaluations = 0;
};

/// A step that nothing but its longest length limits.
inline StepperSettings unlimited(std::size_t states, std::size_t flows, double longest) {
  StepperSettings s;
  s.tolerances.assign(states, 1e30);
  s.scales.assign(states, 1e30);
  s.reach.assign(states, 1e30);
  s.longest_step = longest;
  s.energy_tolerance = 1e30;
  s.size = states + flows;
  return s;
}

struct Course {
  std::vector<double> end;
  std::size_t steps = 0;
};

/// From x at t = 0 to `end`, the last step cut.
inline Course course(Stepper& stepper, StepSystem& system, const std::vector<double>& x, double first, double end) {
  Course c;
  stepper.initialize(x, 0, first);
  for (double t = 0; end - t > 1e-12 * end; ++c.steps) {
    if (stepper.current_time_step() > end - t) stepper.resize(end - t);
    t = stepper.do_step(system).second;
  }
  c.end = stepper.current_state();
  return c;
}

}  // namespace overwinter::test
