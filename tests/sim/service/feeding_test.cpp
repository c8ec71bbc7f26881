#include "sim/service/feeding.hpp"

#include <doctest/doctest.h>

#include "sim/engine/simulator.hpp"
#include "sim/mechanisms/instrument.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("feeding: what hangs behind a switch that is off is not fed") {
  const test::Replayed bench("scenarios/causes/switched-off.yaml", {2025, 1, 10}, {2025, 1, 10});
  const Instrument on(bench.scenario, bench.diagram);
  const Feeding feeding(bench.diagram);
  const int supply = on.net(*on.controller, "supply"), in = on.net(on.all<Boost>().front(), "in"),
            cell = on.net(*on.cell, "plus");
  Simulator simulator(bench.diagram, bench.weather, {});
  Context c = simulator.start();
  // The first alarm comes after ten minutes, the wake takes twenty seconds.
  simulator.advance(c, bench.weather.begin() + 610 * ticks_per_second);
  Evaluator& awake = simulator.at(c);
  CHECK(feeding.fed(supply, awake));
  CHECK(feeding.fed(in, awake));
  CHECK(feeding.joined(cell, supply, awake));
  simulator.advance(c, bench.weather.begin() + 1200 * ticks_per_second);
  Evaluator& asleep = simulator.at(c);
  CHECK_FALSE(feeding.fed(supply, asleep));
  CHECK_FALSE(feeding.fed(in, asleep));
  CHECK(feeding.fed(cell, asleep));
  CHECK(feeding.fed(on.net(*on.clock, "supply"), asleep));
  CHECK(feeding.fed(-1, asleep));  // ground
  CHECK(feeding.joined(in, supply, asleep));
  CHECK_FALSE(feeding.joined(cell, supply, asleep));
}

TEST_CASE("feeding: a protector that has opened is no switch: what it cuts off is still wanted") {
  const test::Replayed bench("scenarios/mechanisms/protector-trip.yaml", {2025, 1, 10}, {2025, 1, 10});
  const Instrument on(bench.scenario, bench.diagram);
  Simulator simulator(bench.diagram, bench.weather, {});
  Context c = simulator.start();
  simulator.advance(c, bench.weather.end());
  Evaluator& system = simulator.at(c);
  const int in = on.net(on.all<Boost>().front(), "in");
  CHECK(system.net_voltage(static_cast<std::size_t>(in)) < 2);
  CHECK(Feeding(bench.diagram).fed(in, system));
}
