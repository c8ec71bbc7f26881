#include "sim/engine/jacobian_factors.hpp"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <limits>
#include <utility>

#include "tests/models/support/random.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

using Vector = std::vector<double>;

/// The same Jacobian in both stores, and what was solved with it.
struct Pair {
  explicit Pair(const Diagram& diagram)
      : dense(make_dense_factors(diagram)),
        compiled(make_compiled_factors(diagram)),
        full(dense->places().size),
        packed(compiled->places().size),
        f(diagram.unknowns()) {}

  void linearise(Evaluator& system, const Vector& network) {
    system.linearise(network.data(), f.data(), dense->places(), full.data());
    system.linearise(network.data(), f.data(), compiled->places(), packed.data());
  }
  void add_to_diagonal(std::size_t unknown, double value) {
    full[dense->places().diagonal[unknown]] += value;
    packed[compiled->places().diagonal[unknown]] += value;
  }

  std::unique_ptr<JacobianFactors> dense, compiled;
  Vector full, packed, f;
};

Vector solved_network(const Evaluator& system) {
  const Diagram& diagram = system.diagram();
  Vector network(diagram.unknowns());
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    for (std::size_t i = 0; i < part.width(); ++i) {
      const std::size_t place = diagram.places()[part.local + i];
      if (place < network.size()) network[place] = system.view(p).z[i];
    }
  }
  return network;
}

/// max_i (|A^-1| |A| |x|)_i / max_i |x_i|: how far a relative change of A's entries moves x (Skeel 1979, J. ACM 26(3),
/// 494-526).
double condition(const MatrixXd& a, const VectorXd& x) {
  return (a.inverse().cwiseAbs() * (a.cwiseAbs() * x.cwiseAbs())).lpNorm<Eigen::Infinity>() /
         x.lpNorm<Eigen::Infinity>();
}

/// Compares the two where a run comes by: at the network's solution and beside it as in Newton's method, both also with
/// conductances to ground as in the implicit Euler steps.
struct Comparison final : RunWatcher {
  explicit Comparison(const Diagram& d) : diagram(d), pair(d) {}

  void on_step(Tick, const double*, Evaluator& system) override { look(system); }
  void on_happening(const Happening&, const double*, Evaluator& system) override { look(system); }

  void look(Evaluator& system) {
    if (seen++ % 23 != 0) return;
    solution = solved_network(system);
    for (const auto& [away, tolerance] : {std::pair{0.0, 1e-12}, {1e-3, 1e-12}, {0.3, 1e-9}}) {
      Vector network = solution;
      for (double& v : network) v += random.between(-away, away);
      for (const double mu : {0.0, 1.0}) {
        pair.linearise(system, network);
        for (std::size_t k = 0; k < diagram.nets().size(); ++k) pair.add_to_diagonal(k, mu);
        compare(tolerance);
      }
    }
    system.set_solution(solution.data());
  }

  void compare(double tolerance) {
    const auto n = static_cast<Eigen::Index>(diagram.unknowns());
    const bool regular = pair.dense->factor(pair.full.data());
    REQUIRE(pair.compiled->factor(pair.packed.data()) == regular);
    if (!regular) return;
    ++(pair.dense->sign() > 0 ? positive : negative);
    CHECK(pair.compiled->sign() == pair.dense->sign());
    VectorXd a = VectorXd::NullaryExpr(n, [&] { return random.between(-1, 1); }), b = a;
    pair.dense->solve(a.data());
    pair.compiled->solve(b.data());
    const double apart = (a - b).lpNorm<Eigen::Infinity>() / a.lpNorm<Eigen::Infinity>();
    CHECK(apart <= tolerance * condition(Eigen::Map<MatrixXd>(pair.full.data(), n, n), a));
  }

  const Diagram& diagram;
  Pair pair;
  test::Random random{7};
  Vector solution;  ///< the evaluator goes on looking at it
  std::size_t seen = 0, positive = 0, negative = 0;
};

/// An instant of a scenario, solved.
struct Instant {
  test::Replayed bench{"scenarios/peat-bog-better.yaml", {2024, 12, 1}, {2024, 12, 1}};
  Simulator simulator{bench.diagram, bench.weather, {}};
  Context context = simulator.start();
  Pair pair{bench.diagram};
  Instant() { pair.linearise(simulator.at(context), context.network); }
};

}  // namespace

TEST_CASE("compiled and dense elimination agree at operating points of every shipped scenario") {
  std::size_t positive = 0, negative = 0;
  for (const std::string name : {"peat-bog", "peat-bog-better", "peat-bog-harvest", "peat-bog-ten-minutes",
                                 "outcomes/failed-starts", "outcomes/flag-never-cleared", "outcomes/needs-human",
                                 "outcomes/recovers", "outcomes/survives", "outcomes/undecided"}) {
    CAPTURE(name);
    const test::Replayed b(std::string(OVERWINTER_SOURCE) + "/scenarios/" + name + ".yaml");
    Comparison comparison(b.diagram);
    Simulator simulator(b.diagram, b.weather, {}, &comparison);
    Context c = simulator.start();
    simulator.advance(c, std::min(b.weather.end(), b.weather.begin() + 15 * ticks_per_day));
    CHECK(comparison.positive + comparison.negative > 50);
    positive += comparison.positive;
    negative += comparison.negative;
  }
  CHECK(positive > 0);
  CHECK(negative > 0);
}

TEST_CASE("a pivot too small for the fixed order is counted, and the full matrix takes over") {
  Instant instant;
  Pair& p = instant.pair;
  const Diagram& diagram = instant.bench.diagram;
  const auto n = diagram.unknowns();
  const auto agree = [&] {
    REQUIRE(p.dense->factor(p.full.data()));
    REQUIRE(p.compiled->factor(p.packed.data()));
    CHECK(p.compiled->sign() == p.dense->sign());
    Vector a(n, 1.0), b(n, 1.0);
    p.dense->solve(a.data());
    p.compiled->solve(b.data());
    return a == b;
  };
  CHECK_FALSE(agree());  // to the last bit: two orders of elimination
  CHECK(p.compiled->searched() == 0);

  // A panel's junction is the first to go; without its own slope it can be eliminated by its net only.
  const std::size_t junction = n - 1;
  REQUIRE(diagram.unknown_name(junction) == "panel-west junction");
  p.add_to_diagonal(junction, -p.full[p.dense->places().diagonal[junction]]);
  CHECK(agree());
  CHECK(p.compiled->searched() == 1);
  p.add_to_diagonal(junction, 1e-6);  // far below the junction's row
  CHECK(agree());
  CHECK(p.compiled->searched() == 2);
  CHECK(p.dense->searched() == 0);

  p.linearise(instant.simulator.at(instant.context), instant.context.network);
  CHECK_FALSE(agree());
  CHECK(p.compiled->searched() == 2);
}

TEST_CASE("a Jacobian that is singular or not finite is refused by both") {
  Instant instant;
  Pair& p = instant.pair;
  const Vector full = p.full, packed = p.packed;
  p.add_to_diagonal(0, std::numeric_limits<double>::quiet_NaN());
  CHECK_FALSE(p.dense->factor(p.full.data()));
  CHECK_FALSE(p.compiled->factor(p.packed.data()));
  std::fill(p.full.begin(), p.full.end(), 0.0);
  std::fill(p.packed.begin(), p.packed.end(), 0.0);
  CHECK_FALSE(p.dense->factor(p.full.data()));
  CHECK_FALSE(p.compiled->factor(p.packed.data()));
  CHECK(p.dense->factor(full.data()));
  CHECK(p.compiled->factor(packed.data()));
}
