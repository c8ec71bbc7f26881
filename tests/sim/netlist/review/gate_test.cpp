#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_gates, edits); }

}  // namespace

TEST_CASE("gates as they should be") {
  CHECK(findings({}).empty());
  CHECK(findings({{", gate_pull_up: 1 Mohm", ""}}).empty());
  // A pull-up that is weak beside the gate's own leaves less than half of the threshold.
  CHECK(findings({{"gate_pull_up: 1 Mohm", "gate_pull_up: 100 kohm"},
                  {"{net: rail, resistance: 1 Mohm}", "{net: pack+, resistance: 1 Mohm}"}})
            .empty());
}

TEST_CASE("a pull-up to less than the switch's source never turns it off") {
  // 5 V - 2.8 V in the series of 1 Mohm and the gate's leakage of 80 Mohm.
  CHECK(findings({{", gate_pull_up: 1 Mohm", ""}, {"{net: rail, resistance", "{net: pack+, resistance"}}) ==
        All{"switch is never off: its source is at 5 V, but wake pull-up (1 Mohm) leads to pack+, which can be as low "
            "as 2.8 V, so that 2.2 V of gate drive are left (threshold 0.8 V); try: the pull-up on rail, the net of "
            "switch.source"});
  // With as much from gate to source half of it is left.
  CHECK(findings({{"{net: rail, resistance", "{net: pack+, resistance"}}).front().find("so that 1.1 V of gate drive") !=
        std::string::npos);
  CHECK(findings({{"gate_pull_up: 1 Mohm", "gate_pull_up: 330 kohm"},
                  {"{net: rail, resistance: 1 Mohm}", "{net: pack+, resistance: 1 Mohm}"}})
            .front()
            .find("switch is never quite off") == 0);
}

TEST_CASE("a pull-up to the switched net leaves the switch half on") {
  CHECK(findings({{"{net: rail, resistance", "{net: instrument+, resistance"}}) ==
        All{"switch is never off: its source is at 5 V, but wake pull-up (1 Mohm) leads to instrument+, which nothing "
            "feeds while the switch is open, so that 2.5 V of gate drive are left (threshold 0.8 V); try: the pull-up "
            "on rail, the net of switch.source"});
}

TEST_CASE("a pull-up that the driver's leakage overcomes") {
  // 0.1 uA at 5 V is 20 nS; 40, 20 and 80 Mohm are 87.5 nS: 5 V x 20 / 107.5 = 0.93 V.
  CHECK(findings({{"{net: rail, resistance: 1 Mohm}", "{net: rail, resistance: 40 Mohm}"},
                  {"gate_pull_up: 1 Mohm", "gate_pull_up: 20 Mohm"}}) ==
        All{"switch: what clock leaks while off, 0.081 uA, makes 0.93 V over the gate's pull-up of 11 Mohm, more than "
            "0.3 of the threshold of 0.8 V: the switch is not surely off; try: a pull-up of at most 2.4 Mohm in all"});
  CHECK(findings({{"{net: rail, resistance: 1 Mohm}", "{net: rail, resistance: 4 Mohm}"},
                  {"gate_pull_up: 1 Mohm", "gate_pull_up: 4 Mohm"}})
            .empty());
}

TEST_CASE("a stage's leakage, and a resistor between it and the gate") {
  const auto second = [](const std::string& pull_up, const std::string& stage) {
    return findings({{"  radio: {model", "  second: {part: p-switch-logic-30mohm}\n  stage: {part: n-stage-5ohm" +
                                             stage + "}\n  radio: {model"},
                     {"rail: [", "rail: [second.source, "},
                     {"probe.plus, radio.plus]", "probe.plus]\n  radio+: [second.drain, radio.plus]"},
                     {"gnd: [", "gnd: [stage.ground, "},
                     {"radio-on: {from: logger.out_2, to: radio.enable}",
                      "radio-on: {from: logger.out_2, to: stage.input}\n"
                      "  radio-gate: {from: stage.drain, to: second.gate, pull_up: {net: rail, " +
                          pull_up + "}}"}});
  };
  CHECK(second("resistance: 100 kohm", "").empty());
  CHECK(second("resistance: 100 kohm, series: 10 kohm", "").empty());
  // 10 uA at 5 V are 2 uS; 400 kohm and 80 Mohm 2.51 uS: 5 V x 2 / 4.51 = 2.2 V, whatever lies in series.
  for (const std::string series : {"", ", series: 10 kohm"}) {
    CHECK(second("resistance: 400 kohm" + series, ", off_leakage: 10 uA, off_leakage_voltage: 5 V") ==
          All{"second: what stage leaks while off, 5.6 uA, makes 2.2 V over the gate's pull-up of 400 kohm, more than "
              "0.3 "
              "of the threshold of 0.8 V: the switch is not surely off; try: a pull-up of at most 24 kohm in all"});
  }
}
