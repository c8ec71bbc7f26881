#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

/// A switch before the converter, of a cell of lithium iron phosphate.
All before_converter(test::Edits edits) {
  return test::sentences(review_gate_drives, edits, "findings/gate-drive-below-datasheet.yaml");
}

All on_rail(const test::Edits& edits) { return test::sentences(review_gate_drives, edits); }

const std::pair<std::string, std::string> standard = {"p-switch-logic-30mohm", "p-switch-standard-120mohm"};

}  // namespace

TEST_CASE("gate drive that a datasheet specifies") {
  CHECK(on_rail({}).empty());
  // 5 V of drive on the rail, of 4.5 V.
  CHECK(on_rail({standard}).empty());
  // Down to the converter's lockout at 2.4 V, of 2.5 V: less than 5 % too little.
  CHECK(before_converter({{"p-switch-standard-120mohm", "p-switch-logic-30mohm"}}).empty());
}

TEST_CASE("gate drive that no charge of the cell reaches") {
  CHECK(
      before_converter({}) ==
      All{"switch: even where cell is full at 3.6 V, clock gives its gate no more than 3.6 V of drive, and 3.1 V where "
          "the cell is down to 5 %; on_resistance, from its datasheet, begins at 4.5 V, and below that nothing is "
          "promised: at 3.1 V a piece with the typical threshold of 2 V has 0.33 ohm, one with 3 V, within usual "
          "limits, 1.9 kohm; try: a logic-level switch, whose on_resistance begins below the least drive, or a switch "
          "at the output of boost, which holds 5 V"});
  CHECK(before_converter({{"lfp-18650-1500mah", "nmc-18650-3000mah"}}).size() == 1);
}

TEST_CASE("gate drive that falls short below a charge") {
  const All found = before_converter({{"switch: {part: p-switch-standard-120mohm, ",
                                       "switch: {part: p-switch-logic-30mohm, on_resistance: {gate_drive: 3.25 8 V, "
                                       "resistance: 42 26 mohm}, "}});
  REQUIRE(found.size() == 1);
  CHECK(
      found[0].find("less than 3.25 V of drive while its source is below 3.25 V (cell at rest at 22 % of its charge), "
                    "and 3.1 V where the cell is down to 5 %") != std::string::npos);
}

TEST_CASE("a stiff pull-up and a series resistor take from the drive") {
  // 1 kohm before the gate and 3 kohm up to the source: a quarter of 5 V stays on the gate.
  const All found = on_rail({standard,
                             {"clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 1 Mohm}",
                              "clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 3 kohm, series: 1 "
                              "kohm}"}});
  REQUIRE(found.size() == 1);
  CHECK(found[0].find("switch: clock gives its gate 3.6 V of drive from a source at 5 V; on_resistance") == 0);
}
