// What people read when lines, controller phases, policy or requirements are wrong, to the letter.
#include <doctest/doctest.h>

#include "tests/support/bench_scenario.hpp"

namespace {

using overwinter::test::Edits;

/// The bench scenario with a clock and a controller that sets it.
const char* const instrument =
    "parts:\n"
    "  clock: {model: clock}\n"
    "  mcu:\n"
    "    model: controller\n"
    "    minimum_supply: 2 V\n"
    "    maximum_supply: 4.5 V\n"
    "    brownout_threshold: 2.5 V\n"
    "    boot_time: 10 ms\n"
    "    boot_current: 3 mA\n"
    "    idle_current: 1 mA\n"
    "    phases:\n"
    "      - {name: measure, duration: 2 s, current: 5 mA}\n"
    "      - {name: send, duration: 9 s, current: 5 mA, out_1: true}\n";

std::string fault(const Edits& edits) {
  Edits all = {{"parts:\n", instrument},
               {"drain.a]", "drain.a, clock.supply, mcu.supply]"},
               {"drain.b]\n",
                "drain.b, clock.ground, mcu.ground, clock.interrupt]\n"
                "lines:\n  set: {from: mcu.bus, to: clock.bus}\n"
                "policy: {every: 30 min}\n"
                "require: {longest_gap: {at_most: 24 h}}\n"}};
  all.insert(all.end(), edits.begin(), edits.end());
  return overwinter::test::fault(all);
}

/// With a radio on the cell, whose line this is.
std::string with_radio(const std::string& line, const Edits& edits) {
  Edits all = {{"parts:\n", "parts:\n  radio: {model: load, kind: current, current: 30 mA}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"},
               {"clock.bus}\n", "clock.bus}\n  on: " + line + "\n"}};
  all.insert(all.end(), edits.begin(), edits.end());
  return fault(all);
}

}  // namespace

TEST_CASE("the instrument itself is accepted") { CHECK(fault({}).empty()); }

TEST_CASE("a line that switches the instrument on is accepted") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: cell+, resistance: 100 kohm}}\n"}})
            .empty());
}

TEST_CASE("open-drain pin on nothing") {
  CHECK(fault({{", clock.interrupt]", "]"}}) == R"(
bench.yaml:5:3: pin clock.interrupt is in no line and no net
      clock: {model: clock}
      ^^^^^
  try: name it in a line, or tie it to gnd
)");
}

TEST_CASE("open-drain pin to an input") {
  CHECK(fault({{"parts:\n", "parts:\n  radio: {model: load, kind: current, current: 30 mA}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: radio.enable}\n"}}) == R"(
bench.yaml:25:37: an open-drain pin can drive gates only, and radio.enable takes a push-pull output
      wake: {from: clock.interrupt, to: radio.enable}
                                        ^^^^^^^^^^^^
  try: from: mcu.out_1, mcu.out_2, mcu.out_3, mcu.out_4
  bench.yaml:25:16: the open-drain pin stands here
      wake: {from: clock.interrupt, to: radio.enable}
                   ^^^^^^^^^^^^^^^
)");
}

TEST_CASE("two push-pull drivers") {
  CHECK(fault({{"parts:\n", "parts:\n  radio: {model: load, kind: current, current: 30 mA}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  on: {from: [mcu.out_1, mcu.out_2], to: radio.enable}\n"}}) ==
        R"(
bench.yaml:25:26: two push-pull drivers cannot share a line
      on: {from: [mcu.out_1, mcu.out_2], to: radio.enable}
                             ^^^^^^^^^
  try: let one of them drive it
  bench.yaml:25:15: the first stands here
      on: {from: [mcu.out_1, mcu.out_2], to: radio.enable}
                  ^^^^^^^^^
)");
}

TEST_CASE("push-pull and open drain") {
  CHECK(fault({{"parts:\n", "parts:\n  radio: {model: load, kind: current, current: 30 mA}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  on: {from: [mcu.out_1, clock.interrupt], to: "
                "radio.enable}\n"}}) == R"(
bench.yaml:25:26: an open-drain pin and an output that drives both ways cannot share a line
      on: {from: [mcu.out_1, clock.interrupt], to: radio.enable}
                             ^^^^^^^^^^^^^^^
  try: let one output drive it, or open-drain pins only
  bench.yaml:25:15: the other stands here
      on: {from: [mcu.out_1, clock.interrupt], to: radio.enable}
                  ^^^^^^^^^
)");
}

TEST_CASE("line of another kind") {
  CHECK(fault({{"from: mcu.bus", "from: mcu.out_1"}}) == R"(
bench.yaml:23:30: clock.bus takes a bus, but the line carries a logic level
      set: {from: mcu.out_1, to: clock.bus}
                                 ^^^^^^^^^
  try: from: mcu.bus
)");
}

TEST_CASE("unknown driver") {
  CHECK(fault({{"mcu.bus", "mcu.buss"}}) == R"(
bench.yaml:23:19: part 'mcu' has no line output 'buss'
      set: {from: mcu.buss, to: clock.bus}
                      ^^^^
  try: mcu.bus
)");
}

TEST_CASE("pull-up on a push-pull line") {
  CHECK(fault({{"parts:\n", "parts:\n  radio: {model: load, kind: current, current: 30 mA}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  on: {from: mcu.out_1, to: radio.enable, pull_up: {net: "
                "cell+, resistance: 100 kohm}}\n"}}) == R"(
bench.yaml:25:43: line 'on' comes from a push-pull output and takes no pull_up
      on: {from: mcu.out_1, to: radio.enable, pull_up: {net: cell+, resistance: 100 kohm}}
                                              ^^^^^^^
  try: remove pull_up
)");
}

TEST_CASE("misspelled column of a phase") {
  CHECK(fault({{"duration: 9 s", "durration: 9 s"}}) == R"(
bench.yaml:16:22: row 2 of phases has no key 'durration'
          - {name: send, durration: 9 s, current: 5 mA, out_1: true}
                         ^^^^^^^^^
  try: duration
)");
}

TEST_CASE("pin on a net and in a line") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate}\n"}}) == R"(
bench.yaml:26:16: pin clock.interrupt is already in net 'gnd'
      wake: {from: clock.interrupt, to: switch.gate}
                   ^^^^^^^^^^^^^^^
  try: a pin belongs to one net or one line: remove one
  bench.yaml:23:56: it stands first here
      gnd: [cell.minus, drain.b, clock.ground, mcu.ground, clock.interrupt]
                                                           ^^^^^^^^^^^^^^^
)");
}

TEST_CASE("gate in no line") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"}}) == R"(
bench.yaml:5:3: pin switch.gate is in no line and no net
      switch: {part: p-switch-logic-30mohm}
      ^^^^^^
  try: name it in a line, or tie it to gnd
)");
}

TEST_CASE("gate under from") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: switch.gate, to: clock.interrupt}\n"}}) == R"(
bench.yaml:26:16: line 'wake' runs backwards: switch.gate is an input, clock.interrupt an output
      wake: {from: switch.gate, to: clock.interrupt}
                   ^^^^^^^^^^^
  try: from: clock.interrupt, to: switch.gate
)");
}

TEST_CASE("gate on a push-pull output") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: mcu.out_1, to: switch.gate}\n"}}) == R"(
bench.yaml:26:31: switch.gate is a gate and listens to open-drain pins, not to a push-pull output
      wake: {from: mcu.out_1, to: switch.gate}
                                  ^^^^^^^^^^^
  try: from: clock.interrupt, or a part of model open-drain-stage between the two
  bench.yaml:26:16: the line is driven here
      wake: {from: mcu.out_1, to: switch.gate}
                   ^^^^^^^^^
)");
}

TEST_CASE("gate named twice") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: [switch.gate, "
                "switch.gate]}\n"}}) == R"(
bench.yaml:26:51: pin switch.gate stands twice in line 'wake'
      wake: {from: clock.interrupt, to: [switch.gate, switch.gate]}
                                                      ^^^^^^^^^^^
  try: remove one
  bench.yaml:26:38: it stands first here
      wake: {from: clock.interrupt, to: [switch.gate, switch.gate]}
                                         ^^^^^^^^^^^
)");
}

TEST_CASE("misspelled gate") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gat, pull_up: {net: "
                "cell+, resistance: 100 kohm}}\n"}}) == R"(
bench.yaml:26:44: part 'switch' has no line input 'gat'
      wake: {from: clock.interrupt, to: switch.gat, pull_up: {net: cell+, resistance: 100 kohm}}
                                               ^^^
  try: switch.gate
)");
}

TEST_CASE("pull-up to a net that is not there") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: rial, resistance: 100 kohm}}\n"}}) == R"(
bench.yaml:26:65: line 'wake' is pulled up to 'rial', but there is no such net
      wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: rial, resistance: 100 kohm}}
                                                                    ^^^^
  try: rail
)");
}

TEST_CASE("pull-up to the reference") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: gnd, resistance: 100 kohm}}\n"}}) == R"(
bench.yaml:26:65: a pull-up to gnd keeps the line low for ever
      wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: gnd, resistance: 100 kohm}}
                                                                    ^^^
  try: name the net of a supply
)");
}

TEST_CASE("pull-up without resistance") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: cell+}}\n"}}) == R"(
bench.yaml:26:50: the pull_up of line 'wake' lacks resistance
      wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: cell+}}
                                                     ^^^^^^^
  try: resistance: NUMBER kohm (between that net and the line)
)");
}

TEST_CASE("pull-up of nothing") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: cell+, resistance: 0 ohm}}\n"}}) == R"(
bench.yaml:26:84: '0 ohm' is out of range: resistance must be above 0 kohm
      wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: cell+, resistance: 0 ohm}}
                                                                                       ^^^^^
  try: resistance: NUMBER kohm (between that net and the line)
)");
}

TEST_CASE("line with the name of a net") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n  rail: {from: clock.interrupt, to: switch.gate, pull_up: "
                "{net: cell+, resistance: 100 kohm}}\n"}}) == R"(
bench.yaml:26:3: line 'rail' has the name of a net
      rail: {from: clock.interrupt, to: switch.gate, pull_up: {net: cell+, resistance: 100 kohm}}
      ^^^^
  try: an electrical line is a net of its own: give it another name
  bench.yaml:22:3: the net stands here
      rail: [switch.drain, mcu.supply]
      ^^^^
)");
}

TEST_CASE("phase without a duration") {
  CHECK(fault({{", duration: 9 s", ""}}) == R"(
bench.yaml:16:9: row 2 of phases lacks duration
          - {name: send, current: 5 mA, out_1: true}
            ^
  try: duration: NUMBER s (how long it lasts)
)");
}

TEST_CASE("phase with a wrong unit") {
  CHECK(fault({{"duration: 9 s", "duration: 9 mA"}}) == R"(
bench.yaml:16:34: 'mA' measures a current; duration is given in s
          - {name: send, duration: 9 mA, current: 5 mA, out_1: true}
                                     ^^
  try: a number in s
)");
}

TEST_CASE("phase out of range") {
  CHECK(fault({{"duration: 9 s", "duration: 30 h"}}) == R"(
bench.yaml:16:32: '30 h' is out of range: duration must be from 1 ms to 24 h
          - {name: send, duration: 30 h, current: 5 mA, out_1: true}
                                   ^^^^
  try: duration: NUMBER s (how long it lasts)
)");
}

TEST_CASE("first alarm at the very start") {
  CHECK(fault({{"{model: clock}", "{model: clock, first_alarm: 0 min}"}}) == R"(
bench.yaml:5:38: '0 min' is out of range: first_alarm must be from 1 s to 366 d
      clock: {model: clock, first_alarm: 0 min}
                                         ^^^^^
  try: first_alarm: NUMBER min (from the start of the span to the first alarm)
)");
}

TEST_CASE("phase without a name") {
  CHECK(fault({{"name: send", "name: \"\""}}) == R"(
bench.yaml:16:16: name is empty
          - {name: "", duration: 9 s, current: 5 mA, out_1: true}
                   ^^
  try: name: TEXT
)");
}

TEST_CASE("phase that is not a mapping") {
  CHECK(fault({{"{name: send, duration: 9 s, current: 5 mA, out_1: true}", "send for 9 s"}}) == R"(
bench.yaml:16:9: row 2 of phases must be a mapping, not 'send for 9 s'
          - send for 9 s
            ^^^^^^^^^^^^
  try: phases: [{name: TEXT, duration: NUMBER s, current: NUMBER mA, power: NUMBER mW}, ...]
)");
}

TEST_CASE("flag of a phase") {
  CHECK(fault({{"out_1: true", "out_1: high"}}) == R"(
bench.yaml:16:59: out_1 must be true or false, not 'high'
          - {name: send, duration: 9 s, current: 5 mA, out_1: high}
                                                              ^^^^
  try: true
)");
}

TEST_CASE("phases that are no list") {
  CHECK(fault({{"    phases:\n      - {name: measure, duration: 2 s, current: 5 mA}\n      - {name: send, duration: 9 "
                "s, current: 5 mA, out_1: true}\n",
                "    phases: {name: send, duration: 9 s}\n"}}) == R"(
bench.yaml:14:13: phases needs a list of rows, not a mapping
        phases: {name: send, duration: 9 s}
                ^
  try: phases: [{name: TEXT, duration: NUMBER s, current: NUMBER mA, power: NUMBER mW}, ...]
)");
}

TEST_CASE("no phases") {
  CHECK(fault({{"    phases:\n      - {name: measure, duration: 2 s, current: 5 mA}\n      - {name: send, duration: 9 "
                "s, current: 5 mA, out_1: true}\n",
                "    phases: []\n"}}) == R"(
bench.yaml:14:13: phases is a list without rows
        phases: []
                ^
  try: phases: [{name: TEXT, duration: NUMBER s, current: NUMBER mA, power: NUMBER mW}, ...]
)");
}

TEST_CASE("missing policy") {
  CHECK(fault({{"policy: {every: 30 min}\n", ""}}) == R"(
bench.yaml:6:3: part 'mcu' asks a wake policy, but the scenario has none
      mcu:
      ^^^
  try: policy: {every: 30 min}
)");
}

TEST_CASE("policy that nobody asks") {
  CHECK(
      fault(
          {{"    model: controller\n    minimum_supply: 2 V\n    maximum_supply: 4.5 V\n    brownout_threshold: 2.5 "
            "V\n    boot_time: 10 ms\n    boot_current: 3 mA\n    idle_current: 1 mA\n    phases:\n      - {name: "
            "measure, duration: 2 s, current: 5 mA}\n      - {name: send, duration: 9 s, current: 5 mA, out_1: true}\n",
            "    {model: resistor, resistance: 1 kohm}\n"},
           {"mcu.supply", "mcu.a"},
           {"mcu.ground", "mcu.b"},
           {"lines:\n  set: {from: mcu.bus, to: clock.bus}\n", ""},
           {"require: {longest_gap: {at_most: 24 h}}\n", ""}}) == R"(
bench.yaml:13:1: the scenario has a policy, but no part asks it
    policy: {every: 30 min}
    ^^^^^^
  try: remove it, or add a part of model controller
)");
}

TEST_CASE("policy without an interval") {
  CHECK(fault({{"policy: {every: 30 min}", "policy: {hysteresis: 60 mV}"}}) == R"(
bench.yaml:24:1: the policy names no interval
    policy: {hysteresis: 60 mV}
    ^^^^^^
  try: every: NUMBER min, or table: [{below: NUMBER V, every: NUMBER min}, ..., {every: NUMBER min}]
)");
}

TEST_CASE("policy row without an interval") {
  CHECK(fault({{"policy: {every: 30 min}",
                "policy:\n  table:\n    - {below: 3.5 V, every: 6 h}\n    - {below: 3.7 V}\n    - {every: 30 min}"}}) ==
        R"(
bench.yaml:27:7: row 2 of table lacks every
        - {below: 3.7 V}
          ^
  try: every: NUMBER min (from the setting of the alarm, or from counts_from of the controller, to the alarm; whole seconds)
)");
}

TEST_CASE("policy row with an unknown key") {
  CHECK(fault({{"policy: {every: 30 min}", "policy: {table: [{beneath: 3.5 V, every: 6 h}, {every: 30 min}]}"}}) == R"(
bench.yaml:24:19: row 1 of table has no key 'beneath'
    policy: {table: [{beneath: 3.5 V, every: 6 h}, {every: 30 min}]}
                      ^^^^^^^
  try: one of below, every
)");
}

TEST_CASE("policy table without an upper end") {
  CHECK(fault({{"policy: {every: 30 min}", "policy: {table: [{below: 3.5 V, every: 6 h}]}"}}) == R"(
bench.yaml:24:17: the table does not say what holds at its highest voltages
    policy: {table: [{below: 3.5 V, every: 6 h}]}
                    ^
  try: give exactly one row without below: {every: NUMBER min}
)");
}

TEST_CASE("policy row without a voltage that is not the last") {
  CHECK(fault({{"policy: {every: 30 min}",
                "policy: {table: [{below: 3.5 V, every: 6 h}, {every: 1 h}, {below: 3.9 V, every: 2 h}]}"}}) == R"(
bench.yaml:24:46: row 2 of the table has no voltage, but it is not the last
    policy: {table: [{below: 3.5 V, every: 6 h}, {every: 1 h}, {below: 3.9 V, every: 2 h}]}
                                                 ^
  try: add below: NUMBER V to it, or put it last
)");
}

TEST_CASE("hysteresis without a table") {
  CHECK(fault({{"policy: {every: 30 min}", "policy: {every: 30 min, hysteresis: 60 mV}"}}) == R"(
bench.yaml:24:37: hysteresis is between the rows of a table, and the policy has none
    policy: {every: 30 min, hysteresis: 60 mV}
                                        ^^^^^
  try: remove it, or give a table in place of every
)");
}

TEST_CASE("policy by the voltage, which nothing tells") {
  CHECK(fault({{"policy: {every: 30 min}", "policy: {table: [{below: 3.5 V, every: 6 h}, {every: 30 min}]}"}}) == R"(
bench.yaml:6:3: the policy goes by the voltage, but nothing tells it: mcu.reading is in no line
      mcu:
      ^^^
  try: add a part of model power-monitor, and battery: {from: MONITOR.voltage, to: mcu.reading}
)");
}

TEST_CASE("policy by the voltage beside a monitor that nobody listens to") {
  CHECK(fault({{"parts:\n", "parts:\n  monitor: {part: monitor-12bit-100mohm}\n"},
               {"drain.a, clock.supply", "drain.a, monitor.in, monitor.supply, clock.supply"},
               {"drain.b, clock.ground", "drain.b, monitor.ground, clock.ground"},
               {"mcu.supply]\n  gnd", "mcu.supply]\n  feed: [monitor.out, spare.a]\n  gnd"},
               {"mcu.ground", "mcu.ground, spare.b"},
               {"parts:\n", "parts:\n  spare: {model: resistor, resistance: 1 kohm}\n"},
               {"policy: {every: 30 min}", "policy: {table: [{below: 3.5 V, every: 6 h}, {every: 30 min}]}"}}) == R"(
bench.yaml:8:3: the policy goes by the voltage, but nothing tells it: mcu.reading is in no line
      mcu:
      ^^^
  try: battery: {from: monitor.voltage, to: mcu.reading}
)");
}

TEST_CASE("a clock that nothing sets") {
  CHECK(fault({{"lines:\n  set: {from: mcu.bus, to: clock.bus}\n", ""}}) == R"(
bench.yaml:5:3: nothing sets the clock's alarm: clock.bus is in no line
      clock: {model: clock}
      ^^^^^
  try: lines: {bus: {from: mcu.bus, to: clock.bus}}
)");
}

TEST_CASE("a second clock") {
  CHECK(fault({{"parts:\n", "parts:\n  spare: {model: clock}\n"},
               {"clock.supply", "clock.supply, spare.supply"},
               {"clock.ground", "clock.ground, spare.ground, spare.interrupt"}}) == R"(
bench.yaml:6:3: part 'clock' is a second clock; a scenario has one, whose alarm a wake answers
      clock: {model: clock}
      ^^^^^
  try: keep one clock
  bench.yaml:5:3: the first stands here
      spare: {model: clock}
      ^^^^^
)");
}

TEST_CASE("a second controller") {
  CHECK(fault({{"parts:\n",
                "parts:\n  other: {part: controller-8bit-5v, phases: [{name: wait, duration: 1 s, current: 1 mA}]}\n"},
               {"clock.supply", "clock.supply, other.supply"},
               {"clock.ground", "clock.ground, other.ground"}}) == R"(
bench.yaml:7:3: part 'mcu' is a second controller; a scenario has one, whose wakes are counted
      mcu:
      ^^^
  try: keep one controller
  bench.yaml:5:3: the first stands here
      other: {part: controller-8bit-5v, phases: [{name: wait, duration: 1 s, current: 1 mA}]}
      ^^^^^
)");
}

TEST_CASE("a line that nothing pulls up") {
  const Edits with_switch = {{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
                             {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
                             {", clock.interrupt]", "]"},
                             {"  set: {from: mcu.bus, to: clock.bus}\n",
                              "  set: {from: mcu.bus, to: clock.bus}\n  wake: {from: clock.interrupt, to: "
                              "switch.gate}\n"}};
  CHECK(fault(with_switch) == R"(
bench.yaml:26:3: line 'wake' floats: open-drain pins only pull it down, and nothing pulls it up
      wake: {from: clock.interrupt, to: switch.gate}
      ^^^^
  try: add pull_up: {net: NET, resistance: 100 kohm} to it, or gate_pull_up: 100 kohm to switch
)");
  Edits own = with_switch;
  own.push_back({"p-switch-logic-30mohm}", "p-switch-logic-30mohm, gate_pull_up: 1 Mohm}"});
  CHECK(fault(own).empty());
  Edits net = with_switch;  // the same wires written as a net
  net.push_back({"  gnd:", "  wake: [clock.interrupt, switch.gate]\n  gnd:"});
  net.push_back({"  wake: {from: clock.interrupt, to: switch.gate}\n", ""});
  CHECK(fault(net) == R"(
bench.yaml:23:3: net 'wake' floats: open-drain pins only pull it down, and nothing pulls it up
      wake: [clock.interrupt, switch.gate]
      ^^^^
  try: add a resistor to the net of a supply, or gate_pull_up: 100 kohm to switch
)");
}

TEST_CASE("wakes are required, and nothing wakes") {
  CHECK(overwinter::test::fault(
            {{"nets:", "require: {lowest_charge: {at_least: 20 %}, worst_day_wakes: {at_least: 1}}\nnets:"}}) == R"(
bench.yaml:7:44: worst_day_wakes is a matter of wakes, and no part can complete one
    require: {lowest_charge: {at_least: 20 %}, worst_day_wakes: {at_least: 1}}
                                               ^^^^^^^^^^^^^^^
  try: remove it, or add a part of model controller
)");
}

TEST_CASE("unknown requirement") {
  CHECK(fault({{"longest_gap", "longest_gab"}}) == R"(
bench.yaml:25:11: there is no requirement 'longest_gab'
    require: {longest_gab: {at_most: 24 h}}
              ^^^^^^^^^^^
  try: longest_gap
)");
}

TEST_CASE("requirement in the wrong direction") {
  CHECK(fault({{"at_most", "at_least"}}) == R"(
bench.yaml:25:25: longest_gap is limited by at_most, not by at_least
    require: {longest_gap: {at_least: 24 h}}
                            ^^^^^^^^
  try: longest_gap: {at_most: 24 h}
)");
}

TEST_CASE("requirement with both limits") {
  CHECK(fault({{"at_most: 24 h", "at_most: 24 h, at_least: 1 h"}}) == R"(
bench.yaml:25:40: longest_gap is limited by at_most, not by at_least
    require: {longest_gap: {at_most: 24 h, at_least: 1 h}}
                                           ^^^^^^^^
  try: remove at_least
)");
}

TEST_CASE("requirement without a limit") {
  CHECK(fault({{"{at_most: 24 h}", "{}"}}) == R"(
bench.yaml:25:11: longest_gap has no limit
    require: {longest_gap: {}}
              ^^^^^^^^^^^
  try: longest_gap: {at_most: NUMBER h}
)");
}

TEST_CASE("requirement as a plain value") {
  CHECK(fault({{"{longest_gap: {at_most: 24 h}}", "{longest_gap: 24 h}"}}) == R"(
bench.yaml:25:24: longest_gap must be a mapping with at_most, not '24 h'
    require: {longest_gap: 24 h}
                           ^^^^
  try: longest_gap: {at_most: 24 h}
)");
}

TEST_CASE("requirement without its unit") {
  CHECK(fault({{"24 h", "24"}}) == R"(
bench.yaml:25:34: no unit after 24; at_most is given in h
    require: {longest_gap: {at_most: 24}}
                                     ^^
  try: 24 h
)");
}

TEST_CASE("count that is not whole") {
  CHECK(fault({{"longest_gap: {at_most: 24 h}", "brownouts: {at_most: 0.5}"}}) == R"(
bench.yaml:25:32: at_most must be a whole number, not '0.5'
    require: {brownouts: {at_most: 0.5}}
                                   ^^^
  try: at_most: WHOLE NUMBER
)");
}

TEST_CASE("empty requirements") {
  CHECK(fault({{"require: {longest_gap: {at_most: 24 h}}", "require:"}}) == R"(
bench.yaml:25:1: require is empty
    require:
    ^^^^^^^
  try: require: {longest_gap: {at_most: 24 h}, needs_human: {at_most: 0}}, or remove the key
)");
}

TEST_CASE("a load on an output that no phase turns on") {
  CHECK(with_radio("{from: mcu.out_3, to: radio.enable}", {}) == R"(
bench.yaml:25:14: no phase turns mcu.out_3 on, so that radio would stay off for ever
      on: {from: mcu.out_3, to: radio.enable}
                 ^^^^^^^^^
  try: out_3: true in a phase, or from: mcu.out_1 (on in send)
)");
}

TEST_CASE("a load on an output where no phase turns any on") {
  CHECK(with_radio("{from: mcu.out_3, to: radio.enable}", {{", out_1: true", ""}}) == R"(
bench.yaml:25:14: no phase turns mcu.out_3 on, so that radio would stay off for ever
      on: {from: mcu.out_3, to: radio.enable}
                 ^^^^^^^^^
  try: out_3: true in a phase
)");
}

TEST_CASE("an output that is not there, and four that are as near") {
  CHECK(with_radio("{from: mcu.out_5, to: radio.enable}", {}) == R"(
bench.yaml:25:18: part 'mcu' has no line output 'out_5'
      on: {from: mcu.out_5, to: radio.enable}
                     ^^^^^
  try: one of mcu.out_1, mcu.out_2, mcu.out_3, mcu.out_4
)");
}

TEST_CASE("a phase with an output that is not there") {
  CHECK(fault({{"out_1: true", "out_5: true"}}) == R"(
bench.yaml:16:52: row 2 of phases has no key 'out_5'
          - {name: send, duration: 9 s, current: 5 mA, out_5: true}
                                                       ^^^^^
  try: one of out_1, out_2, out_3, out_4
)");
}

TEST_CASE("a line that runs backwards") {
  CHECK(with_radio("{from: radio.enable, to: mcu.out_1}", {}) == R"(
bench.yaml:25:14: line 'on' runs backwards: radio.enable is an input, mcu.out_1 an output
      on: {from: radio.enable, to: mcu.out_1}
                 ^^^^^^^^^^^^
  try: from: mcu.out_1, to: radio.enable
)");
}

TEST_CASE("two phases of one name") {
  CHECK(fault({{"name: send", "name: measure"}}) == R"(
bench.yaml:16:16: phases 1 and 2 are both called "measure"
          - {name: measure, duration: 9 s, current: 5 mA, out_1: true}
                   ^^^^^^^
  try: rename one
)");
}

TEST_CASE("a phase to read in that is not there") {
  CHECK(fault({{"    phases:\n", "    reads_in: mesure\n    phases:\n"}}) == R"(
bench.yaml:14:15: no phase is called "mesure"
        reads_in: mesure
                  ^^^^^^
  try: one of measure, send
)");
}

TEST_CASE("two rows below the same voltage") {
  CHECK(fault({{"{every: 30 min}",
                "{table: [{below: 3.5 V, every: 1 h}, {below: 3.5 V, every: 2 h}, {every: 30 min}]}"}}) == R"(
bench.yaml:24:54: rows 1 and 2 of the table hold below the same voltage
    policy: {table: [{below: 3.5 V, every: 1 h}, {below: 3.5 V, every: 2 h}, {every: 30 min}]}
                                                         ^^^^^
  try: remove one, or give them different voltages
)");
}

TEST_CASE("an interval that is not in whole seconds") {
  CHECK(fault({{"{every: 30 min}", "{table: [{below: 3.5 V, every: 1 h}, {every: 90.5 s}]}"}}) == R"(
bench.yaml:24:54: the interval is not in whole seconds, as a clock needs it
    policy: {table: [{below: 3.5 V, every: 1 h}, {every: 90.5 s}]}
                                                         ^^^^^^
  try: round it
)");
}

TEST_CASE("a part turned round on the reference") {
  CHECK(with_radio("{from: mcu.out_1, to: radio.enable}",
                   {{"radio.plus", "radio.minus"}, {"mcu.ground, radio.minus", "mcu.ground, radio.plus"}}) == R"(
bench.yaml:22:56: part 'radio' is connected the wrong way round: its plus is on gnd, its minus on net 'cell+'
      gnd: [cell.minus, drain.b, clock.ground, mcu.ground, radio.plus, clock.interrupt]
                                                           ^^^^^^^^^^
  try: exchange radio.plus and radio.minus
  bench.yaml:21:57: minus stands here
      cell+: [cell.plus, drain.a, clock.supply, mcu.supply, radio.minus]
                                                            ^^^^^^^^^^^
)");
}

TEST_CASE("driver and gate without their line") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm, gate_pull_up: 1 Mohm}\n"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {", clock.interrupt]", "]"}}) == R"(
bench.yaml:6:3: no line leads from clock.interrupt to switch.gate
      clock: {model: clock}
      ^^^^^
  try: lines: {NAME: {from: clock.interrupt, to: switch.gate}}, or tie both pins to gnd
  bench.yaml:5:3: switch.gate belongs to this part
      switch: {part: p-switch-logic-30mohm, gate_pull_up: 1 Mohm}
      ^^^^^^
)");
}

TEST_CASE("a load of two kinds") {
  CHECK(fault({{"parts:\n", "parts:\n  radio: {model: load, kind: current, power: 1 W}\n"},
               {"mcu.supply]", "mcu.supply, radio.plus]"},
               {"mcu.ground", "mcu.ground, radio.minus"}}) == R"(
bench.yaml:5:46: power is given, but the load is of kind current
      radio: {model: load, kind: current, power: 1 W}
                                                 ^^^
  try: kind: power, or current in place of power
)");
}

TEST_CASE("a policy by the share of charge") {
  CHECK(fault({{"{every: 30 min}", "{table: [{below: 40 %, every: 1 h}, {every: 30 min}]}"}}) == R"(
bench.yaml:24:29: '%' measures a plain ratio; below is given in V
    policy: {table: [{below: 40 %, every: 1 h}, {every: 30 min}]}
                                ^
  try: a number in V
)");
}

TEST_CASE("a negative interval") {
  CHECK(fault({{"every: 30 min", "every: -30 min"}}) == R"(
bench.yaml:24:17: '-30 min' is out of range: every must be from 1 s to 366 d
    policy: {every: -30 min}
                    ^^^^^^^
  try: 30 min
)");
}

TEST_CASE("a match of the alarm that the clock does not know") {
  CHECK(fault({{"clock: {model: clock}", "clock: {model: clock, alarm_match: hour}"}}) == R"(
bench.yaml:5:38: alarm_match must be year or date or weekday or hours or minutes or seconds, not 'hour'
      clock: {model: clock, alarm_match: hour}
                                         ^^^^
  try: hours
)");
}

TEST_CASE("an open-drain stage that nothing drives") {
  CHECK(fault({{"parts:\n", "parts:\n  stage: {part: n-stage-5ohm}\n"},
               {"mcu.supply]", "mcu.supply, stage.drain]"},
               {"clock.interrupt]", "clock.interrupt, stage.ground]"}}) == R"(
bench.yaml:5:3: nothing drives stage.input, so that stage would do nothing
      stage: {part: n-stage-5ohm}
      ^^^^^
  try: stage: {from: mcu.out_1, to: stage.input}
)");
}

TEST_CASE("a pull-up whose series resistor is no resistance") {
  CHECK(fault({{"parts:\n", "parts:\n  switch: {part: p-switch-logic-30mohm}\n"},
               {", clock.interrupt]", "]"},
               {"mcu.supply]\n  gnd", "switch.source]\n  rail: [switch.drain, mcu.supply]\n  gnd"},
               {"  set: {from: mcu.bus, to: clock.bus}\n",
                "  set: {from: mcu.bus, to: clock.bus}\n"
                "  wake: {from: clock.interrupt, to: switch.gate,\n"
                "         pull_up: {net: cell+, resistance: 1 Mohm, series: 10 nF}}\n"}}) == R"(
bench.yaml:27:63: 'nF' measures a capacitance; series is given in kohm
             pull_up: {net: cell+, resistance: 1 Mohm, series: 10 nF}}
                                                                  ^^
  try: a number in kohm
)");
}
