#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/sim/engine/support/stepped.hpp"

using namespace overwinter;
using Vector = std::vector<double>;

namespace {

constexpr double tau = 30;

/// A pair that relaxes from 1 to a quarter: x' = -(x - 1/4)/tau. Flows: x, and x' x, which goes into x^2/2.
test::Stepped pair(bool decay_is_told = true) {
  test::Stepped s;
  s.rates = [](const Vector& x, Vector& dxdt) {
    dxdt[0] = -(x[0] - 0.25) / tau;
    dxdt[1] = x[0];
    dxdt[2] = x[0] * dxdt[0];
  };
  s.energy = [](const Vector& x) { return x[0] * x[0] / 2; };
  s.decays = {decay_is_told ? 1 / tau : 0};
  return s;
}
double relaxed(double t) { return 0.25 + 0.75 * std::exp(-t / tau); }

/// x' = -3 x + (2 - x^2), of which 3 is told as decay: (x - a)/(x - b) runs down with the rate a - b, a and b the
/// roots.
test::Stepped bent(double told = 3) {
  test::Stepped s;
  s.rates = [](const Vector& x, Vector& dxdt) {
    dxdt[0] = 2 - 3 * x[0] - x[0] * x[0];
    dxdt[1] = x[0];
  };
  s.decays = {told};
  return s;
}
double bent_exact(double t) {  // from 2
  const double root = std::sqrt(17.0), a = (-3 + root) / 2, b = (-3 - root) / 2;
  const double q = (2 - a) / (2 - b) * std::exp(-root * t);
  return (a - b * q) / (1 - q);
}

StepperSettings with_tolerance(std::size_t flows, double tolerance, double longest) {
  StepperSettings s = test::unlimited(1, flows, longest);
  s.tolerances = {tolerance};
  return s;
}

}  // namespace

TEST_CASE("phase stepper: a decay under a constant input is exact at any length of step") {
  for (const double h : {1e-6, 0.1, 30.0, 900.0, 1e5}) {
    CAPTURE(h);
    test::Stepped system = pair();
    const auto stepper = make_phase_stepper(test::unlimited(1, 2, h));
    stepper->initialize({1, 0, 0}, 0, h);
    // The first step of a relaxation is no longer than 2.5 time constants.
    double t = 0;
    for (int i = 0; i < 3; ++i) {
      t = stepper->do_step(system).second;
      CHECK(std::abs(stepper->current_state()[0] - relaxed(t)) < 4e-16);
      Vector x(3);
      const double middle = 0.37 * t;
      if (i == 0) {
        stepper->calc_state(middle, x);
        CHECK(std::abs(x[0] - relaxed(middle)) < 4e-16);
      }
    }
  }
}

TEST_CASE("phase stepper: of third order where the decay is not all, its dense output included") {
  for (const double told : {3.0, 0.0}) {
    CAPTURE(told);
    double end_error[2], inner_error[2], flow_error[2];
    for (int i = 0; i < 2; ++i) {
      const double h = i == 0 ? 0.02 : 0.01;
      test::Stepped system = bent(told);
      const auto stepper = make_phase_stepper(test::unlimited(1, 1, h));
      stepper->initialize({2, 0}, 0, h);
      inner_error[i] = 0;
      Vector x(2);
      for (int step = 0; step < (i == 0 ? 20 : 40); ++step) {
        const auto [t0, t1] = stepper->do_step(system);
        for (const double share : {0.2, 0.5, 0.8}) {
          stepper->calc_state(t0 + share * h, x);
          inner_error[i] = std::max(inner_error[i], std::abs(x[0] - bent_exact(t0 + share * h)));
        }
        stepper->calc_state(t1, x);
        CHECK(std::abs(x[0] - stepper->current_state()[0]) < 1e-15);
        CHECK(std::abs(x[1] - stepper->current_state()[1]) < 1e-15);
        stepper->calc_state(t0, x);
        CHECK(std::abs(x[0] - bent_exact(t0)) < 1e-4);
      }
      end_error[i] = std::abs(stepper->current_state()[0] - bent_exact(0.4));
      // The integral of x by a fine sum of the exact solution (Simpson's rule, 4000 pieces).
      double sum = 0;
      for (int k = 0; k < 4000; ++k) {
        const double a = k * 1e-4;
        sum += 1e-4 / 6 * (bent_exact(a) + 4 * bent_exact(a + 5e-5) + bent_exact(a + 1e-4));
      }
      flow_error[i] = std::abs(stepper->current_state()[1] - sum);
    }
    const auto order = [](const double* error) { return std::log2(error[0] / error[1]); };
    CHECK(order(end_error) > 2.8);
    CHECK(order(inner_error) > 2.8);
    CHECK(order(flow_error) > 2.8);
    CHECK(end_error[1] > 1e-12);
  }
}

TEST_CASE("phase stepper (9), (10): a short step along a straight line is of second order, and held to the tolerance") {
  const auto errors = [](double h, int steps) {
    test::Stepped system = bent();
    StepperSettings s = test::unlimited(1, 1, h);
    s.straight_below = 1;
    const auto stepper = make_phase_stepper(s);
    stepper->initialize({2, 0}, 0, h);
    Vector x(2);
    double inner = 0;
    for (int i = 0; i < steps; ++i) {
      const double t0 = stepper->do_step(system).first;
      stepper->calc_state(t0 + h / 2, x);
      inner = std::max(inner, std::abs(x[0] - bent_exact(t0 + h / 2)));
    }
    CHECK(system.evaluations == static_cast<std::size_t>(1 + 2 * steps));
    return std::pair{std::abs(stepper->current_state()[0] - bent_exact(0.4)), inner};
  };
  const auto [coarse, coarse_inner] = errors(0.02, 20);
  const auto [fine, fine_inner] = errors(0.01, 40);
  CHECK(std::log2(coarse / fine) == doctest::Approx(2).epsilon(0.1));
  CHECK(std::log2(coarse_inner / fine_inner) > 1.9);

  for (const double told : {3.0, 0.0}) {  // also where no decay gives the change of N away
    for (const double tolerance : {1e-4, 1e-6, 1e-8}) {
      CAPTURE(told);
      CAPTURE(tolerance);
      test::Stepped system = bent(told);
      StepperSettings s = with_tolerance(1, tolerance, 1);
      s.scales = {1};
      s.straight_below = 1;
      const auto stepper = make_phase_stepper(s);
      const test::Course c = test::course(*stepper, system, {2, 0}, 1, 3);
      CHECK(std::abs(c.end[0] - bent_exact(3)) < 3 * tolerance);
    }
  }
}

TEST_CASE("phase stepper: without a decay a flow is integrated by Simpson's weights") {
  // x' = 1, flow x^3: exact for a cubic.
  test::Stepped s;
  s.rates = [](const Vector& x, Vector& dxdt) {
    dxdt[0] = 1;
    dxdt[1] = x[0] * x[0] * x[0];
  };
  s.decays = {0};
  const auto stepper = make_phase_stepper(test::unlimited(1, 1, 2));
  const test::Course c = test::course(*stepper, s, {0, 0}, 2, 2);
  CHECK(c.steps == 1);
  CHECK(c.end[0] == 2);
  CHECK(c.end[1] == doctest::Approx(4).epsilon(1e-15));
  CHECK(s.evaluations == 4);
}

TEST_CASE("phase stepper: the derivative at a step's end is the next step's first") {
  test::Stepped system = bent();
  const auto stepper = make_phase_stepper(test::unlimited(1, 1, 0.01));
  stepper->initialize({2, 0}, 0, 0.01);
  stepper->do_step(system);
  CHECK(system.evaluations == 4);
  stepper->do_step(system);
  CHECK(system.evaluations == 7);
  stepper->resize(0.005);
  stepper->do_step(system);
  CHECK(system.evaluations == 10);
  stepper->initialize(stepper->current_state(), 0, 0.01);
  stepper->do_step(system);
  CHECK(system.evaluations == 14);
}

TEST_CASE("phase stepper: keeps its tolerance with steps as long as it allows") {
  std::size_t steps[2];
  for (int i = 0; i < 2; ++i) {
    const double tolerance = i == 0 ? 1e-6 : 1e-9;
    test::Stepped system = bent(0);
    const auto stepper = make_phase_stepper(with_tolerance(1, tolerance, 100));
    const test::Course c = test::course(*stepper, system, {2, 0}, 10, 3);
    CHECK(std::abs(c.end[0] - bent_exact(3)) < 3 * tolerance);
    steps[i] = c.steps;
  }
  CHECK(steps[1] > 3 * steps[0]);  // 10 for third-order error, or less for the state at rest
  CHECK(steps[1] < 400);
}

TEST_CASE("phase stepper: a decay that nobody has told is measured when it makes a step fail") {
  test::Stepped told = pair(), untold = pair(false);
  for (test::Stepped* system : {&told, &untold}) {
    const auto stepper = make_phase_stepper(with_tolerance(2, 1e-9, 900));
    const test::Course c = test::course(*stepper, *system, {1, 0, 0}, 900, 3600);
    CHECK(std::abs(c.end[0] - relaxed(3600)) < 1e-9);
    CHECK(c.steps < 10);
  }
}

TEST_CASE("phase stepper: two stores in contact are led in their modes, as far as their charge runs down together") {
  // x0' = a (x1 - x0), x1' = b (x0 - x1) - x1/tau: the sum b x0 + a x1 runs down slowly, the difference at once.
  const double a = 1000, b = 5000;
  test::Stepped system;
  system.rates = [&](const Vector& x, Vector& dxdt) {
    dxdt[0] = a * (x[1] - x[0]);
    dxdt[1] = b * (x[0] - x[1]) - x[1] / tau;
    dxdt[2] = x[1];
  };
  system.decays = {0, 0};
  StepperSettings s = test::unlimited(2, 1, 900);
  s.tolerances = {1e-9, 1e-9};
  s.fast = {0, 1};
  const auto stepper = make_phase_stepper(s);
  const test::Course c = test::course(*stepper, system, {3, 1, 0}, 900, 60);
  CHECK(c.steps < 60);
  // By the eigenvalues -p, -q and their vectors (a, a - rate).
  const double sum = a + b + 1 / tau, root = std::sqrt(sum * sum - 4 * a / tau), p = (sum + root) / 2, q = a / tau / p;
  // (3, 1) = (a, a - p) m + (a, a - q) n
  const double n = (1 - 3 / a * (a - p)) / (p - q), m = 3 / a - n;
  const double mp = m * std::exp(-p * 60), nq = n * std::exp(-q * 60);
  CHECK(std::abs(c.end[0] - a * (mp + nq)) < 1e-6);
  CHECK(std::abs(c.end[1] - ((a - p) * mp + (a - q) * nq)) < 1e-6);
  // Dense output and end are states, not modes.
  Vector x(3);
  stepper->calc_state(60, x);
  for (std::size_t i = 0; i < 3; ++i) CHECK(x[i] == doctest::Approx(c.end[i]).epsilon(1e-12));
}

TEST_CASE("phase stepper: flows miss the stored energy by no more than is allowed, in few steps") {
  StepperSettings s = with_tolerance(2, 1, 900);
  s.stored = {2};
  s.energy_tolerance = 1e-8;
  const double allowed = 0.3 * 1e-8;  // J in each step, without throughput
  test::Stepped system = pair();
  const auto stepper = make_phase_stepper(s);
  const test::Course c = test::course(*stepper, system, {1, 0, 0}, 900, 3600);
  const double gained = (relaxed(3600) * relaxed(3600) - 1) / 2;
  CHECK(std::abs(c.end[2] - gained) < static_cast<double>(c.steps) * allowed);
  // A flow that is not looked at profits: the integral of x.
  CHECK(std::abs(c.end[1] - (0.25 * 3600 + 0.75 * tau)) < 1e-5);
  CHECK(c.steps < 20);
  // By Simpson's rule alone it would take more than a hundred: the sum of h^5/2880 (2/tau)^4 e^(-2 t/tau)/2 ... over
  // equal shares; here the corrected steps count seven evaluations each.
  CHECK(system.evaluations < 20 * 8);

  // The less goes through the instrument, the less a step may miss.
  test::Stepped small = pair();
  small.usual = 0;
  const auto strict = make_phase_stepper(s);
  const test::Course d = test::course(*strict, small, {1, 0, 0}, 900, 3600);
  CHECK(d.steps > c.steps);
  CHECK(std::abs(d.end[2] - gained) < static_cast<double>(d.steps) * allowed / 100);

  // Throughput lets a step miss more.
  s.throughput = {1};
  test::Stepped again = pair();
  const auto loose = make_phase_stepper(s);
  CHECK(test::course(*loose, again, {1, 0, 0}, 900, 3600).steps < c.steps);
}

TEST_CASE("phase stepper: the dense output of a corrected step meets both ends") {
  StepperSettings s = with_tolerance(2, 1, 900);
  s.stored = {2};
  s.energy_tolerance = 1e-8;
  test::Stepped system = pair();
  const auto stepper = make_phase_stepper(s);
  stepper->initialize({1, 0, 0}, 0, 900);
  Vector before = {1, 0, 0}, x(3);
  for (int i = 0; i < 6; ++i) {
    const std::size_t evaluations = system.evaluations;
    const auto [t0, t1] = stepper->do_step(system);
    if (i == 0) CHECK(system.evaluations - evaluations >= 7);  // corrected
    stepper->calc_state(t0, x);
    CHECK(x == before);
    stepper->calc_state(t1, x);
    for (std::size_t k = 0; k < 3; ++k) CHECK(std::abs(x[k] - stepper->current_state()[k]) <= 1e-12 * std::abs(x[k]));
    before = stepper->current_state();
    const double middle = t0 + 0.4 * (t1 - t0);
    stepper->calc_state(middle, x);
    CHECK(std::abs(x[0] - relaxed(middle)) < 4e-15);
    CHECK(std::abs(x[2] - (relaxed(middle) * relaxed(middle) - 1) / 2) < 1e-5);
  }
}

TEST_CASE("phase stepper: an event that is due inside a step and over at its end ends a step") {
  // x relaxes from 1 to 1/4; "due" while it is within 0.01 of 0.5.
  const double due_from = -tau * std::log(0.26 / 0.75), due_to = -tau * std::log(0.24 / 0.75);
  for (const double first : {200.0, 120.0, 65.0, 48.0, 33.0}) {
    CAPTURE(first);
    test::Stepped system = pair();
    system.event = [](const Vector& x) { return std::abs(x[0] - 0.5) < 0.01; };
    StepperSettings s = test::unlimited(1, 2, first);
    const auto stepper = make_phase_stepper(s);
    stepper->initialize({1, 0, 0}, 0, first);
    bool seen = false;
    double t = 0;
    const double middle = std::min(first, 2.5 * tau) / 2;
    while (t < 300) {
      t = stepper->do_step(system).second;
      seen = seen || (t > due_from && t < due_to);
    }
    if (middle > due_from && middle < due_to) CHECK(seen);
  }
  // With a first step whose middle is in the window it is found.
  test::Stepped system = pair();
  system.event = [](const Vector& x) { return std::abs(x[0] - 0.5) < 0.01; };
  const auto stepper = make_phase_stepper(test::unlimited(1, 2, due_from + due_to));
  stepper->initialize({1, 0, 0}, 0, due_from + due_to);
  double t = 0;
  while (t < due_from) t = stepper->do_step(system).second;
  CHECK(t < due_to);
}

TEST_CASE("phase stepper: a lost branch comes out, and it goes on when it is initialised again") {
  test::Stepped system = bent();
  system.lost = [](const Vector& x) { return x[0] < 1.5; };
  const auto stepper = make_phase_stepper(with_tolerance(1, 1e-3, 100));
  stepper->initialize({2, 0}, 0, 1);
  CHECK_THROWS_AS(stepper->do_step(system), BranchLost);
  stepper->initialize({2, 0}, 0, 1e-3);
  const auto [t0, t1] = stepper->do_step(system);
  CHECK(t0 == 0);
  CHECK(t1 == 1e-3);
  CHECK(std::abs(stepper->current_state()[0] - bent_exact(t1)) < 1e-6);
}

TEST_CASE("phase stepper: a step that a stop has cut does not shorten the next") {
  test::Stepped system = pair();
  const auto stepper = make_phase_stepper(with_tolerance(2, 1e-6, 900));
  stepper->initialize({0.25, 0, 0}, 0, 900);  // at rest
  CHECK(stepper->do_step(system).second == 900);
  stepper->resize(0.2);
  CHECK(stepper->do_step(system).second == doctest::Approx(900.2).epsilon(1e-15));
  CHECK(stepper->current_time_step() == 900);
}
