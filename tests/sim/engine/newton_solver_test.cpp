#include <doctest/doctest.h>

#include <cmath>

#include "sim/engine/network_solver.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

/// The voltage at a constant-power load behind 3.2 V and 1 ohm, solved from a start value, and what the solver says,
/// with the full matrix and with the compiled one.
double loaded_voltage(const std::string& power, double from, int branch_sign, SolveOutcome& outcome) {
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  const test::Replayed b(scratch.write(
      "test.yaml",
      test::cell_and("{model: load, kind: power, power: " + power + ", minimum_supply: 0.5 V}", "3.2 3.2", "1000")));
  std::vector<double> state(b.diagram.states() + b.diagram.integrals(), 0.0), drive(b.diagram.drives(), 293.15);
  state[0] = 1800;
  state[3] = 293.15;
  std::vector<std::int32_t> memory(b.diagram.memories(), 0);
  Evaluator system(b.diagram);
  system.set_inputs(state.data(), memory.data(), drive.data());
  std::vector<double> network{from}, again{from};
  outcome = make_dense_solver(b.diagram)->solve(system, network, branch_sign);
  const SolveOutcome compiled = make_compiled_solver(b.diagram)->solve(system, again, branch_sign);
  CHECK(compiled.converged == outcome.converged);
  CHECK(compiled.left_branch == outcome.left_branch);
  CHECK(compiled.sign == outcome.sign);
  CHECK(std::abs(again[0] - network[0]) <= 1e-12 * std::abs(network[0]));
  return network[0];
}

}  // namespace

TEST_CASE("below E^2/4R a constant-power load sits on the upper branch of the quadratic") {
  // V = (E + sqrt(E^2 - 4 R P)) / 2 from Kirchhoff's laws; E 3.2 V, R 1 ohm.
  SolveOutcome outcome;
  CHECK(loaded_voltage("1 W", 3.2, 0, outcome) == doctest::Approx((3.2 + std::sqrt(10.24 - 4)) / 2).epsilon(1e-12));
  CHECK(outcome.converged);
  CHECK_FALSE(outcome.left_branch);
  CHECK(loaded_voltage("2.5 W", 3.2, 0, outcome) == doctest::Approx((3.2 + std::sqrt(0.24)) / 2).epsilon(1e-12));
}

TEST_CASE("above E^2/4R there is only the resistive branch, and the solver says that it left the other") {
  SolveOutcome outcome;
  // I = P V / Vmin^2 below 0.5 V: V = E / (1 + R P / Vmin^2).
  CHECK(loaded_voltage("2.6 W", 3.2, 1, outcome) == doctest::Approx(3.2 / (1 + 2.6 / 0.25)).epsilon(1e-9));
  CHECK(outcome.converged);
  CHECK(outcome.left_branch);
}

TEST_CASE("the unstable middle branch is refused when the branch is known") {
  SolveOutcome outcome;
  const double unstable = (3.2 - std::sqrt(10.24 - 4)) / 2;
  const double v = loaded_voltage("1 W", unstable + 1e-4, 1, outcome);
  CHECK(outcome.converged);
  CHECK(std::abs(v - unstable) > 0.1);
}
