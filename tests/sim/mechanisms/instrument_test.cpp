#include "sim/mechanisms/instrument.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("instrument: parts by what they are, and their numbers at a solved network") {
  const test::Replayed bench("scenarios/mechanisms/leakage-budget.yaml", {2025, 1, 10}, {2025, 1, 10});
  const Instrument on(bench.scenario, bench.diagram);
  REQUIRE(on.controller);
  CHECK(on.name(*on.controller) == "logger");
  CHECK(on.name(*on.clock) == "clock");
  CHECK(on.name(*on.cell) == "cell");
  CHECK(on.all<Boost>().size() == 1);
  CHECK(on.all<Panel>().empty());
  const std::size_t boost = on.all<Boost>().front();
  CHECK(on.index(on.part(boost)) == boost);
  CHECK(on.net(boost, "ground") == -1);
  CHECK(bench.diagram.nets()[static_cast<std::size_t>(on.net(boost, "out"))] == "rail");
  CHECK(on.circuit().name(boost) == "boost");  // the scenario's parts stand in the diagram's order

  Simulator simulator(bench.diagram, bench.weather, {});
  const Context start = simulator.start();
  Evaluator& system = simulator.at(start);
  CHECK(on.label(boost, "regime", system) == "on");
  CHECK(on.volts(boost, "out", "ground", system) == doctest::Approx(5).epsilon(1e-3));
  CHECK(on.output(boost, "input_current", system) == doctest::Approx(on.current(boost, "in", system)));
  CHECK(on.output(*on.cell, "current", system) < 0);
  CHECK(on.flow(*on.cell, "charge_out") == on.flow(*on.cell, "charge_in") + 1);
  CHECK_THROWS_AS(on.flow(boost, "charge_in"), std::logic_error);
  CHECK_THROWS_AS(on.output(boost, "colour", system), std::logic_error);
  CHECK_THROWS_AS(on.label(boost, "colour", system), std::logic_error);
  CHECK_THROWS_AS(on.net(boost, "colour"), std::logic_error);
}
