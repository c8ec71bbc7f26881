#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_back_feed, edits); }

}  // namespace

TEST_CASE("switched nets that are unpowered as they should be") { CHECK(findings({}).empty()); }

TEST_CASE("a resistor into a net that is to be unpowered") {
  // 4.2 V over 4.7 kohm and, side by side, the monitor's 3 V / 0.7 mA = 4.29 kohm, the controller's reset 4.3 V / 0.15
  // mA = 28.7 kohm and 1 Mohm: 3.71 kohm.
  CHECK(
      findings({{"  radio: {model", "  up: {model: resistor, resistance: 4.7 kohm}\n  radio: {model"},
                {"pack+: [", "pack+: [up.a, "},
                {"instrument+: [", "instrument+: [up.b, "}}) ==
      All{"instrument+ is fed past switch while it is open: up brings 0.5 mA from 4.2 V over 4.7 kohm, which holds "
          "it at 1.9 V, above the 0.9 V below which logger resets; try: up on a net that is off too, or on one behind "
          "the same switch"});
  // Over 10 Mohm it is nothing that anyone would notice.
  CHECK(findings({{"  radio: {model", "  up: {model: resistor, resistance: 10 Mohm}\n  radio: {model"},
                  {"pack+: [", "pack+: [up.a, "},
                  {"instrument+: [", "instrument+: [up.b, "}})
            .empty());
}

TEST_CASE("a diode into a net that is to be unpowered") {
  CHECK(findings({{"  radio: {model", "  hold: {part: schottky-200ma-30v}\n  radio: {model"},
                  {"pack+: [", "pack+: [hold.anode, "},
                  {"instrument+: [", "instrument+: [hold.cathode, "}}) ==
        All{"instrument+ is fed past switch while it is open: hold brings 1.1 mA from 4.2 V, which holds it at 4.2 V, "
            "above the 0.9 V below which logger resets; try: hold on a net that is off too, or on one behind the same "
            "switch"});
  CHECK(findings({{"  radio: {model", "  hold: {part: schottky-200ma-30v}\n  radio: {model"},
                  {"pack+: [", "pack+: [hold.cathode, "},
                  {"instrument+: [", "instrument+: [hold.anode, "}})
            .empty());
}

TEST_CASE("a wire past the switch") {
  CHECK(findings({{"  radio: {model", "  jumper: {model: resistor, resistance: 1 ohm}\n  radio: {model"},
                  {"rail: [", "rail: [jumper.a, "},
                  {"instrument+: [", "instrument+: [jumper.b, "}}) ==
        All{"switch switches nothing off: instrument+ on its drain is fed by boost past it; try: everything that is to "
            "be switched on a net of its own behind switch.drain"});
}

TEST_CASE("a switch turned round") {
  CHECK(findings({{"boost.out, switch.source", "boost.out, switch.drain"},
                  {"[switch.drain, logger", "[switch.source, logger"}}) ==
        All{"switch is turned round: boost feeds its drain, so that its body diode feeds the load for ever; try: "
            "switch.source and switch.drain exchanged"});
  // In front of the converter, where the cell feeds it.
  const test::Edits before_converter = {{"feed: [monitor.out, boost.in]",
                                         "feed: [monitor.out, switch.drain]\n"
                                         "  late: [switch.source, boost.in]"},
                                        {"  rail: [boost.out, switch.source]\n", ""},
                                        {"[switch.drain, logger", "[boost.out, logger"},
                                        {"{net: rail,", "{net: feed,"}};
  CHECK(findings(before_converter).front().find("switch is turned round: cell feeds its drain") == 0);
}

TEST_CASE("two switches back to back are no mistake") {
  CHECK(findings({{"  radio: {model", "  second: {part: p-switch-logic-30mohm, gate_pull_up: 1 Mohm}\n  radio: {model"},
                  {"rail: [boost.out, switch.source]",
                   "rail: [boost.out, second.drain]\n"
                   "  middle: [second.source, switch.source]"},
                  {"to: switch.gate,", "to: [switch.gate, second.gate],"}})
            .empty());
}

namespace {

/// A part that leads from the powered to the switched net.
test::Edits with(const std::string& part, const std::string& more = "") {
  return {{"  radio: {model", "  lines-up: {" + part + "}\n  radio: {model"},
          {"pack+: [", "pack+: [lines-up.from, "},
          {"instrument+: [", "instrument+: [lines-up.to, "},
          {"  radio-on: ", more + "  radio-on: "}};
}

}  // namespace

TEST_CASE("bus lines into an unpowered controller") {
  // 4.2 V less 0.6 V over 2.35 kohm and the same 3.71 kohm.
  CHECK(
      findings(with("part: bus-two-lines-4k7")) ==
      All{"instrument+ is fed past switch while it is open: lines-up brings 0.59 mA from 4.2 V over 2 x 4.7 kohm and a "
          "clamp diode of 0.6 V, which holds it at 2.2 V, above the 0.9 V below which logger resets; try: lines-up on "
          "a net that is off too, or on one behind the same switch"});
  CHECK(findings(with("model: signal-line, resistance: 10 Mohm")).empty());
  // A line that the sleeping controller drives is low.
  CHECK(findings(with("part: logic-output", "  high: {from: logger.out_1, to: lines-up.level}\n")).empty());
}

TEST_CASE("a divider through a protection diode") {
  // 3.6 V over 100 kohm and 3.71 kohm: too little to hold the supply, but more than a clock takes.
  CHECK(findings(with("part: divider-upper-100k")) ==
        All{"instrument+ is fed past switch while it is open: lines-up brings 35 uA from 4.2 V over 100 kohm and a "
            "clamp diode of 0.6 V, which holds it at 0.13 V; try: lines-up on a net that is off too, or on one behind "
            "the same switch"});
}

TEST_CASE("a controller that nothing resets hangs, and draws what it idles on") {
  test::Edits edits = with("part: bus-two-lines-4k7");
  edits.push_back({"    part: controller-8bit-5v\n", "    part: controller-8bit-5v\n    brownout_detector: false\n"});
  // 4.3 V / 4 mA = 1.08 kohm: 0.86 kohm in all.
  CHECK(
      findings(edits) ==
      All{"instrument+ is fed past switch while it is open: lines-up brings 1.1 mA from 4.2 V over 2 x 4.7 kohm and a "
          "clamp diode of 0.6 V, which holds it at 0.96 V, above the 0.9 V below which logger resets; try: lines-up "
          "on a net that is off too, or on one behind the same switch"});
}

TEST_CASE("lines past a second switch, whose own source is off too") {
  CHECK(findings({{"  radio: {model",
                   "  lines-up: {part: bus-two-lines-4k7}\n  second: {part: p-switch-logic-30mohm}\n"
                   "  stage: {part: n-stage-5ohm}\n  radio: {model"},
                  {"pack+: [", "pack+: [lines-up.from, "},
                  {"probe.plus, radio.plus]",
                   "probe.plus, second.source]\n  radio+: [second.drain, radio.plus, lines-up.to]"},
                  {"gnd: [", "gnd: [stage.ground, "},
                  {"radio-on: {from: logger.out_2, to: radio.enable}",
                   "radio-on: {from: logger.out_2, to: stage.input}\n"
                   "  radio-gate: {from: stage.drain, to: second.gate, pull_up: {net: instrument+, resistance: 100 "
                   "kohm}}"}}) ==
        All{"radio+ is fed past second while it is open: lines-up brings 1.5 mA from 4.2 V over 2 x 4.7 kohm and a "
            "clamp diode of 0.6 V, which holds it at 18 mV; try: lines-up on a net that is off too, or on one behind "
            "the same switch"});
}
