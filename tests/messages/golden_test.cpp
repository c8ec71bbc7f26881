// What people read when a scenario is wrong, to the letter.
#include <doctest/doctest.h>

#include "tests/support/bench_scenario.hpp"

using overwinter::test::fault;

TEST_CASE("the bench scenario itself is accepted") { CHECK(fault({}).empty()); }

TEST_CASE("unknown key with a near name") {
  CHECK(fault({{"resistance: 10", "resistence: 10"}}) == R"(
bench.yaml:6:28: model resistor has no key 'resistence'
      drain: {model: resistor, resistence: 10 kohm}
                               ^^^^^^^^^^
  try: resistance
)");
}

TEST_CASE("unknown key without a near name") {
  CHECK(fault({{"10 kohm}", "10 kohm, colour: blue}"}}) == R"(
bench.yaml:6:49: model resistor has no key 'colour'
      drain: {model: resistor, resistance: 10 kohm, colour: blue}
                                                    ^^^^^^
  try: one of model, part, corners, resistance, temperature_coefficient
)");
}

TEST_CASE("unknown section") {
  CHECK(fault({{"weather:", "wether:"}}) == R"(
bench.yaml:3:1: a scenario has no key 'wether'
    wether: {file: bog.epw}
    ^^^^^^
  try: weather
)");
}

TEST_CASE("wrong unit") {
  CHECK(fault({{"10 kohm", "10 khom"}}) == R"(
bench.yaml:6:43: the unit 'khom' is not known; resistance is given in ohm
      drain: {model: resistor, resistance: 10 khom}
                                              ^^^^
  try: 10 kohm
)");
}

TEST_CASE("unit in wrong case") {
  CHECK(fault({{"charge: 80 %", "capacity: 3000 mah"}}) == R"(
bench.yaml:5:50: the unit 'mah' is not known; capacity is given in mAh
      cell: {part: nmc-18650-3000mah, capacity: 3000 mah}
                                                     ^^^
  try: 3000 mAh
)");
}

TEST_CASE("wrong dimension") {
  CHECK(fault({{"10 kohm", "10 kS"}}) == R"(
bench.yaml:6:43: 'kS' measures a conductance; resistance is given in ohm
      drain: {model: resistor, resistance: 10 kS}
                                              ^^
  try: a number in ohm
)");
}

TEST_CASE("an angle is not a ratio") {
  CHECK(fault({{"80 %", "80 deg"}}) == R"(
bench.yaml:5:46: 'deg' measures an angle; charge is given in %
      cell: {part: nmc-18650-3000mah, charge: 80 deg}
                                                 ^^^
  try: a number in %
)");
}

TEST_CASE("missing unit") {
  CHECK(fault({{"10 kohm", "10"}}) == R"(
bench.yaml:6:40: no unit after 10; resistance is given in ohm
      drain: {model: resistor, resistance: 10}
                                           ^^
  try: 10 ohm
)");
}

TEST_CASE("a percentage without its sign") {
  CHECK(fault({{"80 %", "80"}}) == R"(
bench.yaml:5:43: '80' is out of range: charge must be from 0 % to 100 %
      cell: {part: nmc-18650-3000mah, charge: 80}
                                              ^^
  try: 80 %
)");
}

TEST_CASE("not a number") {
  CHECK(fault({{"10 kohm", ".nan ohm"}}) == R"(
bench.yaml:6:40: resistance must be a finite number, not '.nan'
      drain: {model: resistor, resistance: .nan ohm}
                                           ^^^^
  try: resistance: NUMBER ohm (resistance at 20 degC)
)");
}

TEST_CASE("leading zero") {
  CHECK(fault({{"10 kohm", "010 kohm"}}) == R"(
bench.yaml:6:40: '010' has a leading zero, which some readers take for an octal number
      drain: {model: resistor, resistance: 010 kohm}
                                           ^^^
  try: 10 kohm
)");
}

TEST_CASE("decimal comma") {
  CHECK(fault({{"{model: resistor, resistance: 10 kohm}", "\n    model: resistor\n    resistance: 1,5 kohm"}}) == R"(
bench.yaml:8:17: the decimal sign is a point, not a comma
        resistance: 1,5 kohm
                    ^^^
  try: 1.5 kohm
)");
}

TEST_CASE("out of range") {
  CHECK(fault({{"10 kohm", "-10 ohm"}}) == R"(
bench.yaml:6:40: '-10 ohm' is out of range: resistance must be above 0 ohm and at most 1000 Mohm
      drain: {model: resistor, resistance: -10 ohm}
                                           ^^^^^^^
  try: 10 ohm
)");
}

TEST_CASE("missing required parameter") {
  CHECK(fault({{", resistance: 10 kohm", ""}}) == R"(
bench.yaml:6:3: part 'drain' of model resistor lacks resistance
      drain: {model: resistor}
      ^^^^^
  try: resistance: NUMBER ohm (resistance at 20 degC)
)");
}

TEST_CASE("missing part class") {
  CHECK(fault({{"part: nmc-18650-3000mah", "model: cell"}}) == R"(
bench.yaml:5:3: part 'cell' of model cell lacks capacity, open_circuit_voltage, series_resistance, pair_1_resistance, pair_2_resistance, pair_1_time, pair_2_time, usable_capacity
      cell: {model: cell, charge: 80 %}
      ^^^^
  try: part: lfp-18650-1500mah (one of lfp-18650-1500mah, nmc-18650-3000mah, nmc-18650-3500mah, nmc-pouch-1200mah)
)");
}

TEST_CASE("list instead of a value") {
  CHECK(fault({{"10 kohm", "[10 kohm]"}}) == R"(
bench.yaml:6:40: resistance needs one value, not a list
      drain: {model: resistor, resistance: [10 kohm]}
                                           ^
  try: resistance: NUMBER ohm
)");
}

TEST_CASE("unknown model") {
  CHECK(fault({{"model: resistor", "model: resister"}}) == R"(
bench.yaml:6:18: there is no model 'resister'
      drain: {model: resister, resistance: 10 kohm}
                     ^^^^^^^^
  try: resistor
)");
}

TEST_CASE("unknown part class") {
  CHECK(fault({{"nmc-18650-3000mah", "nmc-18650-300mah"}}) == R"(
bench.yaml:5:16: there is no part class 'nmc-18650-300mah'
      cell: {part: nmc-18650-300mah, charge: 80 %}
                   ^^^^^^^^^^^^^^^^
  try: nmc-18650-3000mah (one of lfp-18650-1500mah, nmc-18650-3000mah, nmc-18650-3500mah, nmc-pouch-1200mah)
)");
}

TEST_CASE("class of another model") {
  CHECK(fault({{"part: nmc-18650-3000mah", "model: cell, part: schottky-1a-40v"}}) == R"(
bench.yaml:5:17: part class 'schottky-1a-40v' is of model schottky, not cell
      cell: {model: cell, part: schottky-1a-40v, charge: 80 %}
                    ^^^^
  try: model: schottky
)");
}

TEST_CASE("part without model") {
  CHECK(fault({{"model: resistor, ", ""}}) == R"(
bench.yaml:6:3: part 'drain' names neither a model nor a part class
      drain: {resistance: 10 kohm}
      ^^^^^
  try: drain: {model: MODEL, ...} or {part: PART CLASS, ...}
)");
}

TEST_CASE("curve with unequal rows") {
  CHECK(fault({{"charge: 80 %", "open_circuit_voltage: {charge: 0 50 100 %, voltage: 3.0 4.2 V}"}}) == R"(
bench.yaml:5:87: voltage has 2 numbers, charge has 3
      cell: {part: nmc-18650-3000mah, open_circuit_voltage: {charge: 0 50 100 %, voltage: 3.0 4.2 V}}
                                                                                          ^^^^^^^^^
  try: give both the same number of points
  bench.yaml:5:66: charge stands here
      cell: {part: nmc-18650-3000mah, open_circuit_voltage: {charge: 0 50 100 %, voltage: 3.0 4.2 V}}
                                                                     ^^^^^^^^^^
)");
}

TEST_CASE("curve that does not rise") {
  CHECK(fault({{"charge: 80 %", "open_circuit_voltage: {charge: 0 60 50 100 %, voltage: 3.0 3.6 3.7 4.2 V}"}}) == R"(
bench.yaml:5:71: charge must rise from number to number, but 50 follows 60
    ...{part: nmc-18650-3000mah, open_circuit_voltage: {charge: 0 60 50 100 %, voltage: 3.0 3.6 3.7 4.2 V}}
                                                                     ^^
  try: sort the points by charge
)");
}

TEST_CASE("finding of a model") {
  CHECK(fault({{"charge: 80 %", "open_circuit_voltage: {charge: 10 100 %, voltage: 3.0 4.2 V}"}}) == R"(
bench.yaml:5:57: the curve does not span the whole charge
      cell: {part: nmc-18650-3000mah, open_circuit_voltage: {charge: 10 100 %, voltage: 3.0 4.2 V}}
                                                            ^
  try: let its charge go from 0 to 100 %
)");
}

TEST_CASE("bad date") {
  CHECK(fault({{"to: 2024-10-20", "to: 2025-02-30"}}) == R"(
bench.yaml:2:30: 2025-02-30 does not exist: February 2025 has 28 days
    span: {from: 2024-10-15, to: 2025-02-30}
                                 ^^^^^^^^^^
  try: 2025-02-28
)");
}

TEST_CASE("empty span") {
  CHECK(fault({{"to: 2024-10-20", "to: 2024-10-12"}}) == R"(
bench.yaml:2:30: the span is empty: it ends on 2024-10-12, before it begins
    span: {from: 2024-10-15, to: 2024-10-12}
                                 ^^^^^^^^^^
  try: exchange from and to
  bench.yaml:2:14: it begins on 2024-10-15
    span: {from: 2024-10-15, to: 2024-10-12}
                 ^^^^^^^^^^
)");
}

TEST_CASE("missing weather file") {
  CHECK(fault({{"bog.epw", "bug.epw"}}) == R"(
bench.yaml:3:17: weather file bug.epw does not exist
    weather: {file: bug.epw}
                    ^^^^^^^
  try: bog.epw
)");
}

TEST_CASE("weather as plain text") {
  CHECK(fault({{"{file: bog.epw}", "bog.epw"}}) == R"(
bench.yaml:3:10: weather must be a mapping, not 'bog.epw'
    weather: bog.epw
             ^^^^^^^
  try: weather: {file: FILE}
)");
}

TEST_CASE("empty section") {
  CHECK(fault({{"weather: {file: bog.epw}", "weather:"}}) == R"(
bench.yaml:3:1: weather is empty
    weather:
    ^^^^^^^
  try: weather: {file: FILE}
)");
}

TEST_CASE("missing section") {
  CHECK(fault({{"weather: {file: bog.epw}\n", ""}}) == R"(
bench.yaml:1:1: the scenario has no weather
    scenario: bench supply of a small load
    ^
  try: weather: {file: FILE}
)");
}

TEST_CASE("missing part file") {
  CHECK(fault({{"parts:\n", "part_files: [mine.yaml]\nparts:\n"}}) == R"(
bench.yaml:4:14: part file mine.yaml does not exist
    part_files: [mine.yaml]
                 ^^^^^^^^^
  try: a path from the scenario's folder
)");
}

TEST_CASE("unknown part in a net") {
  CHECK(fault({{"drain.a", "drian.a"}}) == R"(
bench.yaml:8:22: there is no part 'drian'
      cell+: [cell.plus, drian.a]
                         ^^^^^
  try: drain.a
)");
}

TEST_CASE("unknown pin in a net") {
  CHECK(fault({{"drain.a", "drain.plus"}}) == R"(
bench.yaml:8:28: part 'drain' has no pin 'plus'
      cell+: [cell.plus, drain.plus]
                               ^^^^
  try: drain.a, drain.b
)");
}

TEST_CASE("floating pin") {
  CHECK(fault({{"cell.minus, drain.b", "cell.minus"}}) == R"(
bench.yaml:6:3: pin drain.b is in no net
      drain: {model: resistor, resistance: 10 kohm}
      ^^^^^
  try: add it to nets, such as cell+, gnd
)");
}

TEST_CASE("part in no net") {
  CHECK(fault({{"10 kohm}\n", "10 kohm}\n  spare: {model: resistor, resistance: 1 ohm}\n"}}) == R"(
bench.yaml:7:3: pins spare.a, spare.b are in no net
      spare: {model: resistor, resistance: 1 ohm}
      ^^^^^
  try: add them to nets, such as cell+, gnd
)");
}

TEST_CASE("shorted part") {
  CHECK(fault({{"[cell.plus, drain.a]", "[cell.plus, drain.a, spare.a, spare.b]"},
               {"10 kohm}\n", "10 kohm}\n  spare: {model: resistor, resistance: 1 ohm}\n"}}) == R"(
bench.yaml:9:40: part 'spare' is shorted: all its pins are on net 'cell+'
      cell+: [cell.plus, drain.a, spare.a, spare.b]
                                           ^^^^^^^
  try: put its pins on different nets, or remove the part
  bench.yaml:9:31: also here
      cell+: [cell.plus, drain.a, spare.a, spare.b]
                                  ^^^^^^^
)");
}

TEST_CASE("pin in two nets") {
  CHECK(fault({{"drain.b]", "drain.b, drain.a]"}}) == R"(
bench.yaml:9:30: pin drain.a is already in net 'cell+'
      gnd: [cell.minus, drain.b, drain.a]
                                 ^^^^^^^
  try: a pin belongs to one net: remove one, or make the two nets one
  bench.yaml:8:22: it stands first here
      cell+: [cell.plus, drain.a]
                         ^^^^^^^
)");
}

TEST_CASE("missing ground") {
  CHECK(fault({{"gnd:", "ground:"}}) == R"(
bench.yaml:7:1: there is no net gnd, the reference of all voltages
    nets:
    ^^^^
  try: rename net ground to gnd
)");
}

TEST_CASE("net with one pin") {
  CHECK(fault({{"10 kohm}\n", "10 kohm}\n  spare: {model: resistor, resistance: 1 ohm}\n"},
               {"drain.b]", "drain.b, spare.a]\n  far: [spare.b]"}}) == R"(
bench.yaml:11:3: net 'far' has one pin only, so no current can flow there
      far: [spare.b]
      ^^^
  try: add the pins it leads to
)");
}

TEST_CASE("island") {
  CHECK(fault({{"10 kohm}\n",
                "10 kohm}\n  spare-1: {model: resistor, resistance: 1 ohm}\n  spare-2: {model: resistor, resistance: 1 "
                "ohm}\n"},
               {"drain.b]", "drain.b]\n  far+: [spare-1.a, spare-2.a]\n  far-: [spare-1.b, spare-2.b]"}}) == R"(
bench.yaml:12:3: nets far+, far- have no path to gnd through any part
      far+: [spare-1.a, spare-2.a]
      ^^^^
  try: put a pin of one of their parts on gnd
)");
}

TEST_CASE("two cells") {
  CHECK(fault({{"10 kohm}\n", "10 kohm}\n  cell-2: {part: nmc-18650-3000mah}\n"},
               {"cell.plus,", "cell.plus, cell-2.plus,"},
               {"cell.minus,", "cell.minus, cell-2.minus,"}}) == R"(
bench.yaml:7:3: part 'cell-2' is a second cell; a system has one
      cell-2: {part: nmc-18650-3000mah}
      ^^^^^^
  try: keep one cell
  bench.yaml:5:3: the first stands here
      cell: {part: nmc-18650-3000mah, charge: 80 %}
      ^^^^
)");
}

TEST_CASE("line driven twice") {
  CHECK(fault({{"parts:\n", "parts:\n  charger: {part: charger-linear-100ma}\n"},
               {"drain.a]", "drain.a, charger.in, charger.out]"},
               {"drain.b]\n",
                "drain.b, charger.ground]\nlines:\n  first: {from: cell.temperature, to: charger.temperature}\n  "
                "second: {from: cell.temperature, to: [charger.temperature]}\n"}}) == R"(
bench.yaml:13:41: input charger.temperature is driven twice
      second: {from: cell.temperature, to: [charger.temperature]}
                                            ^^^^^^^^^^^^^^^^^^^
  try: let one line drive it
  bench.yaml:12:39: it is driven first here
      first: {from: cell.temperature, to: charger.temperature}
                                          ^^^^^^^^^^^^^^^^^^^
)");
}

TEST_CASE("pin in a line, line port in a net") {
  CHECK(fault({{"parts:\n", "parts:\n  charger: {part: charger-linear-100ma}\n"},
               {"drain.a]", "drain.a, charger.in, charger.out, charger.temperature]"},
               {"drain.b]\n",
                "drain.b, charger.ground]\nlines:\n  first: {from: cell.plus, to: charger.temperature}\n"}}) == R"(
bench.yaml:9:56: charger.temperature is a line input, not a pin
      cell+: [cell.plus, drain.a, charger.in, charger.out, charger.temperature]
                                                           ^^^^^^^^^^^^^^^^^^^
  try: connect it under lines

bench.yaml:12:17: cell.plus is a pin, not a line output
      first: {from: cell.plus, to: charger.temperature}
                    ^^^^^^^^^
  try: connect it under nets
)");
}

TEST_CASE("bad name") {
  CHECK(fault({{"  drain: ", "  Drain: "}, {"drain.a", "Drain.a"}, {"drain.b", "Drain.b"}}) == R"(
bench.yaml:6:3: 'Drain' is not a name for a part: use lower-case letters, digits and - _, and begin with a letter
      Drain: {model: resistor, resistance: 10 kohm}
      ^^^^^
  try: drain
)");
}

TEST_CASE("duplicate key") {
  CHECK(fault({{"80 %}", "80 %}\n  cell: {part: nmc-pouch-1200mah}"}}) == R"(
bench.yaml:6:3: the key 'cell' stands here a second time
      cell: {part: nmc-pouch-1200mah}
      ^^^^
  try: keep one of the two
  bench.yaml:5:3: the first stands here
      cell: {part: nmc-18650-3000mah, charge: 80 %}
      ^^^^
)");
}

TEST_CASE("alias") {
  CHECK(fault({{"part: nmc-18650-3000mah, charge: 80 %", "part: nmc-18650-3000mah, charge: &full 80 %"},
               {"{model: resistor, resistance: 10 kohm}", "{model: resistor, resistance: *full}"}}) == R"(
bench.yaml:5:43: anchors are not used in these files
      cell: {part: nmc-18650-3000mah, charge: &full 80 %}
                                              ^^^^^
  try: write the value out where it is needed

bench.yaml:6:40: aliases are not used in these files
      drain: {model: resistor, resistance: *full}
                                           ^^^^^
  try: write the value out where it is needed
)");
}

TEST_CASE("merge key") {
  CHECK(fault({{"{model: resistor,", "{<<: {model: resistor},"}}) == R"(
bench.yaml:6:11: merge keys are not used in these files
      drain: {<<: {model: resistor}, resistance: 10 kohm}
              ^^
  try: write the entries out where they are needed
)");
}

TEST_CASE("second document") {
  CHECK(fault({{"parts:\n", "---\nparts:\n"}}) == R"(
bench.yaml:4:1: a second document begins here; a file holds one
    ---
    ^
  try: put it into a file of its own
)");
}

TEST_CASE("tab") {
  CHECK(fault({{"  drain:", "\tdrain:"}}) == R"(
bench.yaml:6:1: a tab in the indentation
     drain: {model: resistor, resistance: 10 kohm}
    ^
  try: indent with blanks
)");
}

TEST_CASE("bracket not closed") {
  CHECK(fault({{"drain.a]", "drain.a"}}) == R"(
bench.yaml:8:10: not valid YAML: this '[' is not closed
      cell+: [cell.plus, drain.a
             ^
  try: close it with ']', or put the missing comma
)");
}

TEST_CASE("quote not closed") {
  CHECK(fault({{"bench supply", "'bench supply"}}) == R"(
bench.yaml:1:11: not valid YAML: this quote is not closed
    scenario: 'bench supply of a small load
              ^
  try: close it
)");
}

TEST_CASE("colon in a value") {
  CHECK(fault({{"bench supply", "bench: supply"}}) == R"(
bench.yaml:1:16: not valid YAML: no value can begin at this ':'
    scenario: bench: supply of a small load
                   ^
  try: check the indentation of this line and of the line before it, and quote a value that contains ': '
)");
}

TEST_CASE("characters count, not bytes") {
  CHECK(fault({{"scenario: bench supply of a small load", "scenario: größte Last bei −10 °C"},
               {"{model: resistor, resistance: 10 kohm}", "{model: resistor, resistance: 10 kΩ, β: 3}"}}) == R"(
bench.yaml:6:47: model resistor has no key 'β'
      drain: {model: resistor, resistance: 10 kΩ, β: 3}
                                                  ^
  try: one of model, part, corners, resistance, temperature_coefficient
)");
}

TEST_CASE("two faults at once, in the order of their places") {
  CHECK(fault({{"2024-10-15", "2024-13-15"}, {"drain.b]", "drain.c]"}, {"10 kohm", "-1 ohm"}}) == R"(
bench.yaml:2:14: 2024-13-15 does not exist: a year has the months 01 to 12
    span: {from: 2024-13-15, to: 2024-10-20}
                 ^^^^^^^^^^
  try: from: YYYY-MM-DD

bench.yaml:6:40: '-1 ohm' is out of range: resistance must be above 0 ohm and at most 1000 Mohm
      drain: {model: resistor, resistance: -1 ohm}
                                           ^^^^^^
  try: 1 ohm

bench.yaml:9:27: part 'drain' has no pin 'c'
      gnd: [cell.minus, drain.c]
                              ^
  try: drain.a, drain.b
)");
}
