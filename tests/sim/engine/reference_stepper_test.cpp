#include <doctest/doctest.h>

#include <cmath>

#include "tests/sim/engine/support/stepped.hpp"

using namespace overwinter;

namespace {

/// x' = -x + cos t with t as the second state; the flow is x.
test::Stepped driven() {
  test::Stepped s;
  s.rates = [](const std::vector<double>& x, std::vector<double>& dxdt) {
    dxdt[0] = -x[0] + std::cos(x[1]);
    dxdt[1] = 1;
    dxdt[2] = x[0];
  };
  s.decays = {0, 0};
  return s;
}
double exact(double t) { return (std::cos(t) + std::sin(t) - std::exp(-t)) / 2; }  // from x(0) = 0

}  // namespace

TEST_CASE("reference stepper: keeps its tolerance and its longest step, and gives dense output") {
  test::Stepped system = driven();
  StepperSettings settings = test::unlimited(2, 1, 0.7);
  settings.tolerances = {1e-9, 1e-9};
  const std::unique_ptr<Stepper> stepper = make_reference_stepper(settings);
  stepper->initialize({0, 0, 0}, 0, 0.1);
  std::vector<double> x(3);
  double t = 0;
  while (t < 10) {
    const auto [t0, t1] = stepper->do_step(system);
    CHECK(t0 == t);
    CHECK(t1 - t0 <= 0.7 + 1e-12);
    t = t1;
    CHECK(std::abs(stepper->current_state()[0] - exact(t)) < 1e-7);
    for (const double share : {0.0, 0.3, 1.0}) {
      const double at = t0 + share * (t1 - t0);
      stepper->calc_state(at, x);
      CHECK(std::abs(x[0] - exact(at)) < 1e-7);
    }
  }
  // integral of x: (sin t - cos t + e^-t)/2.
  CHECK(std::abs(stepper->current_state()[2] - (std::sin(t) - std::cos(t) + std::exp(-t)) / 2) < 1e-6);
}

TEST_CASE("reference stepper: a resized step starts where the last one ended and has the new length") {
  test::Stepped system = driven();
  StepperSettings settings = test::unlimited(2, 1, 10);
  settings.tolerances = {1e-9, 1e-9};
  const std::unique_ptr<Stepper> stepper = make_reference_stepper(settings);
  stepper->initialize({0, 0, 0}, 0, 0.1);
  const double first = stepper->do_step(system).second;
  stepper->resize(0.01);
  const auto [t0, t1] = stepper->do_step(system);
  CHECK(t0 == first);
  CHECK(t1 - t0 == doctest::Approx(0.01).epsilon(1e-12));
  CHECK(std::abs(stepper->current_state()[0] - exact(t1)) < 1e-8);
}
