// Dormand & Prince's method of order 5(4) with its dense output, from Boost.Odeint.
#include <algorithm>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>

#include "sim/engine/stepper.hpp"

namespace overwinter {

namespace odeint = boost::numeric::odeint;

namespace {

using Vector = std::vector<double>;

/// The largest error of the slow states in units of their tolerance; the flow integrals behind them are not looked at.
class SlowStateErrorChecker {
 public:
  using value_type = double;
  SlowStateErrorChecker() = default;
  explicit SlowStateErrorChecker(Vector tolerances) : tolerances_(std::move(tolerances)) {}
  template <class Algebra, class Error>
  double error(Algebra&, const Vector&, const Vector&, Error& x_err, double) const {
    double worst = 0;
    for (std::size_t i = 0; i < tolerances_.size(); ++i) worst = std::max(worst, std::abs(x_err[i]) / tolerances_[i]);
    return worst;
  }

 private:
  Vector tolerances_;
};

using Dopri5 = odeint::runge_kutta_dopri5<Vector>;
using StepAdjuster = odeint::default_step_adjuster<double, double>;
using Controlled = odeint::controlled_runge_kutta<Dopri5, SlowStateErrorChecker, StepAdjuster>;
using Dense = odeint::dense_output_runge_kutta<Controlled>;

class ReferenceStepper final : public Stepper {
 public:
  explicit ReferenceStepper(const StepperSettings& s)
      : dense_(Controlled(SlowStateErrorChecker(s.tolerances), StepAdjuster(s.longest_step), Dopri5())) {}

  void initialize(const Vector& x, double t, double h) override { dense_.initialize(x, t, h); }
  void resize(double h) override {
    // Odeint takes a new step size only together with a fresh derivative.
    dense_.initialize(Vector(dense_.current_state()), dense_.current_time(), h);
  }
  std::pair<double, double> do_step(StepSystem& system) override {
    return dense_.do_step([&](const Vector& x, Vector& dxdt, double) { system.slopes(x, dxdt); });
  }
  void calc_state(double t, Vector& x) const override { dense_.calc_state(t, x); }
  const Vector& current_state() const override { return dense_.current_state(); }
  double current_time_step() const override { return dense_.current_time_step(); }

 private:
  Dense dense_;
};

}  // namespace

std::unique_ptr<Stepper> make_reference_stepper(const StepperSettings& s) {
  return std::make_unique<ReferenceStepper>(s);
}

}  // namespace overwinter
