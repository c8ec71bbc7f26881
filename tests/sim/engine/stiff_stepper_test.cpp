#include <doctest/doctest.h>

#include <cmath>

#include "sim/engine/stepper.hpp"

using namespace overwinter;

namespace {

using Vector = std::vector<double>;

/// y' = -k (y - 1) with k = 1e7/s, s' = 1 - s/tau with tau = 10 s, and the integral of y.
class Relaxation final : public StepSystem {
 public:
  void slopes(const Vector& x, Vector& dxdt) override {
    dxdt[0] = -1e7 * (x[0] - 1);
    dxdt[1] = 1 - x[1] / 10;
    dxdt[2] = x[0];
  }
  void decay(double*) const override {}
  double stored_energy() const override { return 0; }
  double usual_power() const override { return 0; }
  bool due() const override { return false; }
};

StepperSettings settings() {
  StepperSettings s;
  s.tolerances = {1e-6, 1e-6};
  s.scales = {1, 1};
  s.reach = {1, 1};
  s.fast = {0};
  s.longest_step = 0.05;
  s.size = 3;
  return s;
}

}  // namespace

TEST_CASE("stiff stepper: a relaxation of 0.1 us beside one of 10 s, to the exact exponentials in some hundred steps") {
  const std::unique_ptr<Stepper> stepper = make_stiff_stepper(settings());
  Relaxation system;
  stepper->initialize({0, 0, 0}, 0, 1e-9);
  double t = 0;
  int steps = 0;
  Vector within(3);
  while (t < 1) {
    if (t + stepper->current_time_step() > 1) stepper->resize(1 - t);
    const auto [begin, end] = stepper->do_step(system);
    const double middle = (begin + end) / 2;
    stepper->calc_state(middle, within);
    CHECK(within[0] == doctest::Approx(-std::expm1(-1e7 * middle)).epsilon(1e-4));
    t = end;
    ++steps;
  }
  CHECK(steps < 200);
  const Vector& x = stepper->current_state();
  CHECK(x[0] == doctest::Approx(1).epsilon(1e-6));
  CHECK(x[1] == doctest::Approx(-10 * std::expm1(-0.1)).epsilon(1e-5));
  CHECK(std::abs(x[2] - (1 - 1e-7)) < 1e-10);  // the integral of 1 - exp(-k t)
}

TEST_CASE("stiff stepper: a derivative by differences is the one of the law") {
  Relaxation system;
  Vector x = {0.5, 2, 0};
  double jacobian = 0;
  system.linearise(x, {0}, &jacobian);
  CHECK(jacobian == doctest::Approx(-1e7).epsilon(1e-6));
  CHECK(x[0] == 0.5);
}
