// Rosenbrock's method of order 4(3) of Boost.Odeint with its dense output, for transients: nets whose capacitances
// settle in nanoseconds beside a soft start of milliseconds.
//
// It is implicit in the fast states y only. The others, s, move by less than the tolerance while these settle: they
// stand still inside a step, and are then moved by the trapezoid of their rates,
//   (1) s1 = s0 + h (s'0 + s'1)/2, s'1 at y1 and s0 + h s'0
// Flows take Simpson's rule with the dense output in the step's middle,
//   (2) E1 = E0 + h (E'0 + 4 E'm + E'1)/6
// and both are interpolated by the cubic through their ends and rates (Hermite).
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_dense_output.hpp>
#include <boost/numeric/ublas/matrix.hpp>
#include <boost/numeric/ublas/vector.hpp>
#include <utility>

#include "sim/engine/stepper.hpp"

namespace overwinter {

namespace odeint = boost::numeric::odeint;
namespace ublas = boost::numeric::ublas;

namespace {

using Vector = std::vector<double>;
using Fast = ublas::vector<double>;
using Method = odeint::rosenbrock4<double>;
constexpr double difference = 1e-6;  // of a state, for derivatives

using Dense = odeint::rosenbrock4_dense_output<odeint::rosenbrock4_controller<Method>>;

class StiffStepper final : public Stepper {
 public:
  /// The fast states are counted in their tolerances, so that one bound holds for all.
  explicit StiffStepper(const StepperSettings& s)
      : fast_(s.fast),
        tolerances_(s.tolerances),
        states_(s.tolerances.size()),
        dense_(odeint::rosenbrock4_controller<Method>(1.0, 0.0, s.longest_step)),
        rates_(s.size),
        old_rates_(s.size),
        new_rates_(s.size) {}

  void initialize(const Vector& x, double t, double h) override {
    current_ = x;
    Fast y(fast_.size());
    for (std::size_t i = 0; i < fast_.size(); ++i) y[i] = x[fast_[i]] / tolerance(i);
    dense_.initialize(y, t, h);
  }
  void resize(double h) override { dense_.initialize(Fast(dense_.current_state()), dense_.current_time(), h); }

  std::pair<double, double> do_step(StepSystem& system) override {
    old_ = current_;
    system.slopes(old_, old_rates_);
    const auto derivative = [&](const Fast& y, Fast& dydt, double) { rates(system, y, dydt); };
    const auto jacobian = [&](const Fast&, ublas::matrix<double>& j, double, Fast& dfdt) {
      linearise(system, j);
      dfdt.clear();
    };
    const auto [t0, t1] = dense_.do_step(std::make_pair(derivative, jacobian));
    const double h = t1 - t0;
    // Middle and end, the slow states on a straight line. (1), (2)
    Fast middle(fast_.size());
    dense_.calc_state(t0 + h / 2, middle);
    for (std::size_t i = 0; i < states_; ++i) current_[i] = old_[i] + h / 2 * old_rates_[i];
    put(middle, current_);
    system.slopes(current_, rates_);
    for (std::size_t i = 0; i < states_; ++i) current_[i] = old_[i] + h * old_rates_[i];
    put(dense_.current_state(), current_);
    system.slopes(current_, new_rates_);
    for (std::size_t i = 0; i < current_.size(); ++i) {
      current_[i] = old_[i] + (i < states_ ? h / 2 * (old_rates_[i] + new_rates_[i])
                                           : h / 6 * (old_rates_[i] + 4 * rates_[i] + new_rates_[i]));
    }
    put(dense_.current_state(), current_);
    begin_ = t0;
    end_ = t1;
    return {t0, t1};
  }

  void calc_state(double t, Vector& x) const override {
    x = current_;
    const double h = end_ - begin_, s = (t - begin_) / h, r = 1 - s;
    for (std::size_t i = 0; i < x.size(); ++i) {
      const double rise = current_[i] - old_[i];
      x[i] = old_[i] * r + current_[i] * s +
             s * r * ((h * old_rates_[i] - rise) * r - (h * new_rates_[i] - rise) * s);  // Hermite
    }
    Fast y(fast_.size());
    const_cast<Dense&>(dense_).calc_state(t, y);
    put(y, x);
  }
  const Vector& current_state() const override { return current_; }
  double current_time_step() const override { return dense_.current_time_step(); }

 private:
  double tolerance(std::size_t i) const { return tolerances_[fast_[i]]; }
  void put(const Fast& y, Vector& x) const {
    for (std::size_t i = 0; i < fast_.size(); ++i) x[fast_[i]] = y[i] * tolerance(i);
  }

  void rates(StepSystem& system, const Fast& y, Fast& dydt) {
    point_ = old_;
    put(y, point_);
    system.rates(point_, rates_);
    for (std::size_t i = 0; i < fast_.size(); ++i) dydt[i] = rates_[fast_[i]] / tolerance(i);
  }

  /// At the step's begin, which rates() has just been asked for.
  void linearise(StepSystem& system, ublas::matrix<double>& j) {
    system.linearise(point_, fast_, &j.data()[0]);
    for (std::size_t r = 0; r < fast_.size(); ++r) {
      for (std::size_t c = 0; c < fast_.size(); ++c) j(r, c) *= tolerance(c) / tolerance(r);
    }
  }

  const std::vector<std::size_t> fast_;
  const Vector tolerances_;
  const std::size_t states_;
  Dense dense_;
  Vector current_, old_, point_, rates_, old_rates_, new_rates_;
  double begin_ = 0, end_ = 0;
};

}  // namespace

void StepSystem::linearise(Vector& x, const std::vector<std::size_t>& states, double* jacobian) {
  Vector here(x.size()), moved(x.size());
  rates(x, here);
  for (std::size_t j = 0; j < states.size(); ++j) {
    const double value = x[states[j]];
    x[states[j]] = value + difference;
    rates(x, moved);
    x[states[j]] = value;
    for (std::size_t i = 0; i < states.size(); ++i) {
      jacobian[i * states.size() + j] = (moved[states[i]] - here[states[i]]) / difference;
    }
  }
}

std::unique_ptr<Stepper> make_stiff_stepper(const StepperSettings& s) { return std::make_unique<StiffStepper>(s); }

}  // namespace overwinter
