#include "sim/replay/extremes.hpp"

#include <doctest/doctest.h>

#include "sim/replay/summary.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("extremes: the lowest and the highest value, and when") {
  Extremes e;
  for (const Tick t : {1, 2, 3, 4}) e.take(t == 2 ? -5.0 : t == 3 ? 8.0 : 1.0, t);
  CHECK(e.low == -5);
  CHECK(e.low_at == 2);
  CHECK(e.high == 8);
  CHECK(e.high_at == 3);
}

TEST_CASE("extremes: outputs are followed at every step, and only those that exist") {
  const test::Replayed b("scenarios/peat-bog-harvest.yaml", {2025, 2, 1}, {2025, 2, 1});
  ExtremesLog log(b.diagram);
  const WatchedOutput& voltage = log.watch(cell_of(b.diagram), "voltage");
  CHECK_THROWS_AS(log.watch(cell_of(b.diagram), "colour"), std::logic_error);
  Simulator simulator(b.diagram, b.weather, {}, &log);
  Context c = simulator.start();
  simulator.advance(c, b.weather.end());
  CHECK(voltage.extremes.low < voltage.extremes.high);
  CHECK(voltage.extremes.low > 3);
  CHECK(voltage.extremes.high < 4.3);
}
