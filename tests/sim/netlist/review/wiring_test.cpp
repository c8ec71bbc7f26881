#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

/// The findings about an instrument that has none of its own, with these edits.
All findings(const test::Edits& edits) { return test::texts(review_wiring, edits); }

}  // namespace

TEST_CASE("wiring as it should be") { CHECK(findings({}).empty()); }

TEST_CASE("an output that phases drive and no line leaves") {
  CHECK(findings({{"  radio-on: {from: logger.out_2, to: radio.enable}\n", ""},
                  {"current: 14 mA}", "current: 14 mA, out_2: true}"}}) ==
        All{"logger turns out_2 on in store, send, but no line leads from it: a load without an enable line is on all "
            "the "
            "time"});
}

TEST_CASE("parts turned round") {
  CHECK(
      findings({{"diode-south.anode]", "diode-south.cathode]"}, {"[diode-south.cathode", "[diode-south.anode"}}) ==
      All{"diode-south is turned round: its cathode is on panel-south, so that the panel delivers nothing through it"});
  CHECK(findings({{"charger.in]", "charger.out]"}, {"[charger.out", "[charger.in"}}) ==
        All{"charger is turned round: its in is on the cell's side, its out is not, so that it charges nothing"});
  CHECK(findings({{"boost.in]", "boost.out]"}, {"rail: [boost.out", "rail: [boost.in"}}) ==
        All{"boost is turned round: its out is on the cell's side, its in is not, so that it feeds nothing"});
  CHECK(findings({{"guard.pack", "guard.cell"}, {"[guard.cell, lead", "[guard.pack, lead"}}) ==
        All{"guard is turned round: its pack is on the cell's side, its cell is not, so that it looks at the wrong "
            "side"});
}

TEST_CASE("a diode past a shaded panel points from its negative to its positive end") {
  CHECK(findings({{"  diode-south:", "  bypass: {part: schottky-1a-40v}\n  diode-south:"},
                  {"[panel-south.plus,", "[panel-south.plus, bypass.cathode,"},
                  {"gnd: [", "gnd: [bypass.anode, "}})
            .empty());
}

TEST_CASE("a panel that feeds the cell past any charger") {
  CHECK(findings({{"sun: [diode-south.cathode, ", "sun: ["}, {"pack+: [", "pack+: [diode-south.cathode, "}}) ==
        All{"panel-south feeds the cell past any charger: nothing ends the charge, and an overcharged lithium cell can "
            "burn"});
}

TEST_CASE("supplies beyond what a part bears, or below what it needs") {
  CHECK(findings({{"boost-5v-500ma-disconnect}", "boost-5v-500ma-disconnect, output_voltage: 5.6 V}"}}) ==
        All{"logger bears a supply of 5.5 V, but boost holds it at 5.6 V: it can be damaged"});
  CHECK(findings({{"part: controller-8bit-5v", "part: controller-8bit-5v\n    brownout_threshold: 5.2 V"}}) ==
        All{"logger starts at 5.28 V, but boost holds it at 5 V: it never does"});
  CHECK(findings({{"minimum_supply: 4.2 V", "minimum_supply: 12 V"}}) ==
        All{"radio needs 12 V (minimum_supply), but boost holds it at 5 V: below that it is taken as a resistor, which "
            "draws "
            "less"});
  CHECK(findings({{"minimum_supply: 4.2 V", "minimum_supply: 5 V"}}).empty());
  // On the cell itself: a charger brings it to 4.2 V, which a 3.3 V part does not bear.
  CHECK(findings({{"part: controller-8bit-5v", "part: controller-32bit-3v3"},
                  {"monitor.in, clock", "monitor.in, logger.supply, clock"},
                  {"switch.drain, logger.supply,", "switch.drain,"}}) ==
        All{"logger bears a supply of 3.6 V, but cell is full at 4.2 V: it can be damaged"});
}

TEST_CASE("alarms that wake nothing") {
  CHECK(findings({{"  wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 1 Mohm}}\n", ""},
                  {"gnd: [", "gnd: [clock.interrupt, switch.gate, "}}) ==
        All{"clock.interrupt is tied to gnd, so that its alarm switches nothing on"});
  CHECK(findings({{"first_alarm: 2 h", "first_alarm: 98 d"}}) ==
        All{"clock has its first alarm 98 d after the start, when the span is over"});
  CHECK(findings({{"first_alarm: 2 h", "first_alarm: 97.99 d"}}).empty());
  CHECK(findings({{"  clock: {part: clock-crystal, first_alarm: 2 h}\n", ""},
                  {", clock.supply", ""},
                  {"clock.ground, ", "switch.gate, "},
                  {"  wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 1 Mohm}}\n", ""},
                  {"  bus: {from: logger.bus, to: clock.bus}\n", ""}}) ==
        All{"no clock wakes logger: it wakes when its supply returns, and the policy's intervals have no effect"});
}
