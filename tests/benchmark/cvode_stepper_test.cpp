#include "tools/benchmark/cvode_stepper.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <stdexcept>

#include "tests/sim/engine/support/stepped.hpp"

using namespace overwinter;

namespace {

constexpr double fast = 200;  // 1/s

/// A pair that relaxes and one that swings, x = e^(-200 t), u = sin t, v = cos t; the flow is u.
test::Stepped pair_and_swing() {
  test::Stepped s;
  s.rates = [](const std::vector<double>& x, std::vector<double>& dxdt) {
    dxdt[0] = -fast * x[0];
    dxdt[1] = x[2];
    dxdt[2] = -x[1];
    dxdt[3] = x[1];
  };
  s.decays = {0, 0, 0};
  return s;
}

StepperSettings within(double tolerance, double longest) {
  StepperSettings s = test::unlimited(3, 1, longest);
  s.tolerances.assign(3, tolerance);
  return s;
}

constexpr CvodeVariant variants[] = {CvodeVariant::adams, CvodeVariant::adams_diagonal, CvodeVariant::bdf};

}  // namespace

TEST_CASE("CVODE stepper: error follows the tolerance, dense output and flows too, steps stay below the longest") {
  for (const CvodeVariant variant : variants) {
    CAPTURE(static_cast<int>(variant));
    test::Stepped system = pair_and_swing();
    const std::unique_ptr<Stepper> stepper = make_cvode_stepper(within(1e-9, 0.5), variant);
    stepper->initialize({1, 0, 1, 0}, 0, 0.1);
    std::vector<double> x(4);
    double t = 0;
    while (t < 3) {
      const auto [t0, t1] = stepper->do_step(system);
      CHECK(t0 == t);
      CHECK(t1 - t0 <= 0.5 + 1e-12);
      t = t1;
      CHECK(stepper->current_state()[3] == doctest::Approx(1 - std::cos(t)).epsilon(1e-6));
      for (const double share : {0.0, 0.4, 1.0}) {
        const double at = t0 + share * (t1 - t0);
        stepper->calc_state(at, x);
        CHECK(std::abs(x[0] - std::exp(-fast * at)) < 1e-6);
        CHECK(std::abs(x[1] - std::sin(at)) < 1e-6);
        CHECK(std::abs(x[3] - (1 - std::cos(at))) < 1e-6);
      }
    }
    CHECK(t < 4);
  }
}

TEST_CASE("CVODE stepper: a looser tolerance takes fewer evaluations and leaves a larger error") {
  for (const CvodeVariant variant : variants) {
    test::Stepped loose = pair_and_swing(), tight = pair_and_swing();
    const auto a = test::course(*make_cvode_stepper(within(1e-4, 0.5), variant), loose, {1, 0, 1, 0}, 0.1, 2);
    const auto b = test::course(*make_cvode_stepper(within(1e-8, 0.5), variant), tight, {1, 0, 1, 0}, 0.1, 2);
    CHECK(loose.evaluations < tight.evaluations);
    CHECK(std::abs(a.end[1] - std::sin(2.0)) > std::abs(b.end[1] - std::sin(2.0)));
    CHECK(std::abs(b.end[1] - std::sin(2.0)) < 1e-6);
  }
}

TEST_CASE("CVODE stepper: BDF takes the stiff pair in fewer evaluations than Adams once it has gone") {
  test::Stepped a = pair_and_swing(), b = pair_and_swing();
  test::course(*make_cvode_stepper(within(1e-5, 0.5), CvodeVariant::adams), a, {1, 0, 1, 0}, 0.1, 5);
  test::course(*make_cvode_stepper(within(1e-5, 0.5), CvodeVariant::bdf), b, {1, 0, 1, 0}, 0.1, 5);
  CHECK(2 * b.evaluations < a.evaluations);
}

TEST_CASE("CVODE stepper: a resized step ends where it should, and a restart forgets") {
  test::Stepped system = pair_and_swing();
  const std::unique_ptr<Stepper> stepper = make_cvode_stepper(within(1e-6, 10), CvodeVariant::bdf);
  stepper->initialize({0, 0, 1, 0}, 0, 0.1);
  for (int i = 0; i < 30; ++i) stepper->do_step(system);
  const double h = stepper->current_time_step() / 2;
  stepper->resize(h);
  const auto [t0, t1] = stepper->do_step(system);
  CHECK(t1 - t0 == doctest::Approx(h).epsilon(1e-12));
  stepper->initialize({0, 0, 2, 5}, 7, 1e-3);
  CHECK(stepper->do_step(system).first == 7);
  CHECK(stepper->current_state()[2] == doctest::Approx(2).epsilon(1e-6));
  CHECK(stepper->current_state()[3] >= 5);
}

TEST_CASE("CVODE stepper: what the system throws comes through, and after it a restart goes on") {
  for (const CvodeVariant variant : variants) {
    test::Stepped system = pair_and_swing();
    system.lost = [](const std::vector<double>& x) { return x[1] > 0.5; };
    const std::unique_ptr<Stepper> stepper = make_cvode_stepper(within(1e-6, 0.5), variant);
    stepper->initialize({0, 0, 1, 0}, 0, 0.1);
    const auto onwards = [&] {
      for (int i = 0; i < 10000; ++i) stepper->do_step(system);
    };
    CHECK_THROWS_AS(onwards(), BranchLost);
    system.lost = nullptr;
    stepper->initialize({0, 0.4, 1, 0}, 1, 0.1);
    CHECK(stepper->do_step(system).second > 1);
    system.rates = [](const std::vector<double>&, std::vector<double>&) { throw std::domain_error("toy"); };
    CHECK_THROWS_AS(onwards(), std::domain_error);
  }
}
