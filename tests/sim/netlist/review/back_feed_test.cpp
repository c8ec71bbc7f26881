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
  // 4.2 V over 4.7 kohm and the monitor's 3 V / 0.7 mA = 4.3 kohm.
  CHECK(findings({{"  radio: {model", "  up: {model: resistor, resistance: 4.7 kohm}\n  radio: {model"},
                  {"pack+: [", "pack+: [up.a, "},
                  {"instrument+: [", "instrument+: [up.b, "}}) ==
        All{"instrument+ is fed past switch while it is open: up brings 0.47 mA from 4.2 V over 4.7 kohm, which holds "
            "it at 2 V, above the 0.9 V below which logger resets; try: up on a net that is off too, or on one behind "
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
        All{"instrument+ is fed past switch while it is open: hold brings 0.98 mA from 4.2 V, which holds it at 4.2 V, "
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
