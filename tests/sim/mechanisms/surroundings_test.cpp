#include "sim/mechanisms/surroundings.hpp"

#include <doctest/doctest.h>

#include "models/storage/cell.hpp"
#include "sim/mechanisms/instrument.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("surroundings: a cell behind a lead is E behind R, exactly") {
  const test::Replayed bench("scenarios/mechanisms/constant-power-collapse.yaml", {2025, 1, 10}, {2025, 1, 10});
  const Instrument on(bench.scenario, bench.diagram);
  Simulator simulator(bench.diagram, bench.weather, {});
  const Context start = simulator.start();
  Evaluator& system = simulator.at(start);
  const std::size_t boost = on.all<Boost>().front();
  const Surroundings around(bench.diagram, boost);
  const auto source = around.source(system, on.net(boost, "in"), {{on.net(boost, "out"), 5.0}});
  REQUIRE(source);
  const Cell& cell = *on.as<Cell>(*on.cell);
  // What else hangs on the net is the clock: its 1.5 uA leave 3 uV over the lead, and are a thousandth of 1 percent.
  CHECK(source->straight);
  CHECK(source->emf == doctest::Approx(cell.parameters().open_circuit_voltage(0.4)).epsilon(1e-5));
  const double r = cell.resistances(system.view(*on.cell)).series.si() + 1.9;
  CHECK(source->resistance == doctest::Approx(r).epsilon(1e-4));
  CHECK(source->largest == doctest::Approx(source->emf * source->emf / 4 / r).epsilon(1e-4));
  // The rail held at 5 V is loaded by the gate's pull-ups and leakage only: the switch is open.
  const auto drawn =
      around.drawn(system, on.net(boost, "out"), {{on.net(boost, "in"), 3.0}, {on.net(boost, "out"), 5.0}});
  REQUIRE(drawn);
  CHECK(*drawn < 5e-6);
  CHECK_FALSE(around.source(system, -1, {}));  // of ground nothing is asked
}

TEST_CASE("surroundings: a charger's constant current is no E behind R, and gives what it gives") {
  // Noon in September, the protector of an empty cell open: the charger alone feeds the lamp's net with 10 mA.
  const test::Replayed bench("scenarios/mechanisms/charger-deadlock.yaml", {2024, 9, 10}, {2024, 9, 10});
  const Instrument on(bench.scenario, bench.diagram);
  Simulator simulator(bench.diagram, bench.weather, {});
  Context c = simulator.start();
  simulator.advance(c, bench.weather.begin() + 12 * 3600 * ticks_per_second);
  Evaluator& system = simulator.at(c);
  std::size_t lamp = 0;
  while (on.name(lamp) != "lamp") ++lamp;
  const auto source = Surroundings(bench.diagram, lamp).source(system, on.net(lamp, "plus"), {});
  REQUIRE(source);
  CHECK_FALSE(source->straight);
  // Without the lamp the net rises until the protector's diode takes the pre-charge; up to there it is 10 mA.
  CHECK(source->emf > 3.0);
  CHECK(source->largest < 10e-3 * source->emf);
  CHECK(source->largest > 8e-3 * 0.9 * source->emf);
}
