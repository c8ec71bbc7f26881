#include "models/paths/open_drain_stage.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/near.hpp"
#include "tests/models/support/signal_examples.hpp"

using namespace overwinter;
using namespace overwinter::test;

TEST_CASE("open-drain stage (1): a resistance while its input is high, leakage while it is low") {
  OpenDrainStageParameters p;
  p.on_resistance = Resistance{5.0};
  p.off_leakage = Current{1e-6};
  p.off_leakage_voltage = Voltage{50.0};
  Alone stage = build<OpenDrainStage>(p);
  stage.z = {5.25, 0.25};
  stage.line[0] = 1;
  CHECK(relative_error(stage.currents()[0], 1.0) < 1e-12);
  CHECK(stage.label("pulling") == "yes");
  stage.line[0] = 0;
  CHECK(relative_error(stage.currents()[0], 0.1e-6) < 1e-12);
  CHECK(stage.label("pulling") == "no");
  CHECK(relative_error(stage.flow("heat"), 0.5e-6) < 1e-12);
}

TEST_CASE("open-drain stage: an unconnected input pulls nothing, and the netlist asks for one") {
  Alone stage = build<OpenDrainStage>(OpenDrainStageParameters{});
  stage.z = {5, 0};
  CHECK(stage.label("pulling") == "no");
  REQUIRE(stage.table.line_inputs.size() == 1);
  CHECK(stage.table.line_inputs[0].needed);
  CHECK(stage.table.pins[0].role == PinRole::open_drain);
}
