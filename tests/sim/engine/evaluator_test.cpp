#include "sim/engine/evaluator.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "sim/engine/jacobian_factors.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

/// The peat-bog system at noon of a spring day, solved.
struct Noon {
  test::Replayed bench{"scenarios/peat-bog-harvest.yaml", {2025, 3, 20}, {2025, 3, 20}};
  Simulator simulator{bench.diagram, bench.weather, {}};
  Context context = simulator.start();
  Noon() { simulator.advance(context, context.now + ticks_per_day / 2); }
};

}  // namespace

TEST_CASE("the Jacobian of the whole network equals central differences") {
  Noon noon;
  Evaluator& system = noon.simulator.at(noon.context);
  const std::size_t n = noon.bench.diagram.unknowns();
  const auto factors = make_dense_factors(noon.bench.diagram);  // column by column
  std::vector<double> f(n), up(n), down(n), jacobian(factors->places().size), z = noon.context.network;
  system.linearise(z.data(), f.data(), factors->places(), jacobian.data());
  for (std::size_t j = 0; j < n; ++j) {
    const double h = 1e-6, kept = z[j];
    z[j] = kept + h;
    system.residual(z.data(), up.data());
    z[j] = kept - h;
    system.residual(z.data(), down.data());
    z[j] = kept;
    for (std::size_t i = 0; i < n; ++i) {
      const double slope = (up[i] - down[i]) / (2 * h);
      CHECK(std::abs(jacobian[j * n + i] - slope) <= 1e-6 + 1e-4 * std::abs(slope));
    }
  }
}

TEST_CASE(
    "at a solved instant the flows balance to rounding and the refused harvest is what is offered and not taken") {
  Noon noon;
  Evaluator& system = noon.simulator.at(noon.context);
  const Diagram& d = noon.bench.diagram;
  std::vector<double> flow(d.integrals());
  system.flows(flow.data());
  double balance = 0, scale = 0, offered = 0, taken = 0, refused = 0;
  for (const DiagramPart& part : d.parts()) {
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      const double w = flow[part.flow + i];
      switch (part.table->flows[i].kind) {
        case FlowKind::source:
          balance += w;
          taken += w;
          scale += w;
          break;
        case FlowKind::delivered:
        case FlowKind::lost:
        case FlowKind::stored:
          balance -= w;
          break;
        case FlowKind::offered:
          offered += w;
          break;
        case FlowKind::throughput:
        case FlowKind::counted:
          break;
      }
    }
  }
  for (std::size_t i = d.flows(); i < d.integrals(); ++i) refused += flow[i];
  CHECK(scale > 0);
  CHECK(std::abs(balance) < 1e-11 * scale);
  CHECK(refused == doctest::Approx(offered - taken).epsilon(1e-12));
}
