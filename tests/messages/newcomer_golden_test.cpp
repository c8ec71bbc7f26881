// Mistakes that newcomers make, and what they read, to the letter.
#include <doctest/doctest.h>

#include "tests/support/bench_scenario.hpp"

using overwinter::test::fault;

TEST_CASE("a negative number") {
  CHECK(fault({{"80 %", "-80 %"}}) == R"(
bench.yaml:5:43: '-80 %' is out of range: charge must be from 0 % to 100 %
      cell: {part: nmc-18650-3000mah, charge: -80 %}
                                              ^^^^^
  try: 80 %
)");
}

TEST_CASE("a unit a thousand times too large") {
  CHECK(fault({{"charge: 80 %", "capacity: 3000 Ah"}}) == R"(
bench.yaml:5:45: '3000 Ah' is out of range: capacity must be above 0 mAh and at most 1 kAh
      cell: {part: nmc-18650-3000mah, capacity: 3000 Ah}
                                                ^^^^^^^
  try: 3000 mAh
)");
}

TEST_CASE("a capital M for the small one") {
  CHECK(fault({{"charge: 80 %", "capacity: 3000 MAh"}}) == R"(
bench.yaml:5:45: '3000 MAh' is out of range: capacity must be above 0 mAh and at most 1 kAh
      cell: {part: nmc-18650-3000mah, capacity: 3000 MAh}
                                                ^^^^^^^^
  try: 3000 mAh
)");
}

TEST_CASE("zero where more is needed") {
  CHECK(fault({{"10 kohm", "0 ohm"}}) == R"(
bench.yaml:6:40: '0 ohm' is out of range: resistance must be above 0 ohm and at most 1000 Mohm
      drain: {model: resistor, resistance: 0 ohm}
                                           ^^^^^
  try: resistance: NUMBER ohm (resistance at 20 degC)
)");
}

TEST_CASE("out of range without a likely reading") {
  CHECK(fault({{"span:", "site: {latitude: 156 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\nspan:"}}) ==
        R"(
bench.yaml:2:18: '156 deg' is out of range: latitude must be from -90 deg to 90 deg
    site: {latitude: 156 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}
                     ^^^^^^^
  try: latitude: NUMBER deg (geographic latitude, north positive)
)");
}

TEST_CASE("abbreviated keys") {
  CHECK(fault({{"span:", "site: {lat: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\nspan:"}}) == R"(
bench.yaml:2:8: site has no key 'lat'
    site: {lat: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}
           ^^^
  try: latitude
)");
}

TEST_CASE("a time of day for a time") {
  CHECK(fault({{"span:",
                "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: \"-05:30\"}\nspan:"}}) == R"(
bench.yaml:2:76: utc_offset is a number with a unit, not a time of day
    site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: "-05:30"}
                                                                               ^^^^^^
  try: -5.5 h
)");
}

TEST_CASE("a word for a number") {
  CHECK(fault({{"80 %", "full"}}) == R"(
bench.yaml:5:43: charge must begin with a number, not 'full'
      cell: {part: nmc-18650-3000mah, charge: full}
                                              ^^^^
  try: charge: NUMBER % (state of charge at the start of the span)
)");
}

TEST_CASE("a decimal comma between brackets") {
  CHECK(fault({{"10 kohm", "1,5 kohm"}}) == R"(
bench.yaml:6:40: the decimal sign is a point, not a comma
      drain: {model: resistor, resistance: 1,5 kohm}
                                           ^^^^^^^^
  try: 1.5 kohm
)");
}

TEST_CASE("a no-break blank before the unit") {
  CHECK(fault({{"10 kohm", "10 kohm"}}) == R"(
bench.yaml:6:40: a no-break blank stands before the unit, where a plain one belongs
      drain: {model: resistor, resistance: 10 kohm}
                                           ^^^^^^^
  try: 10 kohm
)");
}

TEST_CASE("typographic minus") {
  CHECK(fault({{"80 %", "−80 %"}}) == R"(
bench.yaml:5:43: '−80' begins with a typographic minus sign
      cell: {part: nmc-18650-3000mah, charge: −80 %}
                                              ^^^
  try: -80 %
)");
}

TEST_CASE("a day in another form") {
  CHECK(fault({{"2024-10-15", "15.10.2024"}}) == R"(
bench.yaml:2:14: from must be a day written YYYY-MM-DD, not '15.10.2024'
    span: {from: 15.10.2024, to: 2024-10-20}
                 ^^^^^^^^^^
  try: 2024-10-15
)");
}

TEST_CASE("a day with an hour") {
  CHECK(fault({{"2024-10-15", "2024-10-15 12:00"}}) == R"(
bench.yaml:2:14: from must be a day written YYYY-MM-DD, not '2024-10-15 12:00'
    span: {from: 2024-10-15 12:00, to: 2024-10-20}
                 ^^^^^^^^^^^^^^^^
  try: 2024-10-15
)");
}

TEST_CASE("a day that can be read two ways") {
  CHECK(fault({{"2024-10-15", "05/04/2024"}}) == R"(
bench.yaml:2:14: from must be a day written YYYY-MM-DD, not '05/04/2024'
    span: {from: 05/04/2024, to: 2024-10-20}
                 ^^^^^^^^^^
  try: from: YYYY-MM-DD
)");
}

TEST_CASE("a span of days") {
  CHECK(fault({{"to: 2024-10-20", "days: 6"}}) == R"(
bench.yaml:2:26: span has no key 'days'
    span: {from: 2024-10-15, days: 6}
                             ^^^^
  try: one of from, to
)");
}

TEST_CASE("a part class known by a part of its name") {
  CHECK(fault({{"nmc-18650-3000mah", "18650"}}) == R"(
bench.yaml:5:16: there is no part class '18650'
      cell: {part: 18650, charge: 80 %}
                   ^^^^^
  try: one of lfp-18650-1500mah, nmc-18650-3000mah, nmc-18650-3500mah
)");
}

TEST_CASE("a part name in capitals is one fault") {
  CHECK(fault({{"  drain: {", "  Drain: {"}}) == R"(
bench.yaml:6:3: 'Drain' is not a name for a part: use lower-case letters, digits and - _, and begin with a letter
      Drain: {model: resistor, resistance: 10 kohm}
      ^^^^^
  try: drain
)");
}

TEST_CASE("a weather file that is a folder") {
  CHECK(fault({{"bog.epw", "."}}) == R"(
bench.yaml:3:17: weather file . is a folder
    weather: {file: .}
                    ^
  try: a path from the scenario's folder
)");
}

TEST_CASE("a weather file without a name") {
  CHECK(fault({{"bog.epw", "\"\""}}) == R"(
bench.yaml:3:17: weather file must be the name of a file, not ''
    weather: {file: ""}
                    ^^
  try: a path from the scenario's folder
)");
}

TEST_CASE("a curve out of range") {
  CHECK(fault({{"80 %}", "80 %, usable_capacity: {temperature: 0 20 degC, share: 100 180 %}}"}}) == R"(
bench.yaml:5:102: '180' is out of range: share must be above 5 % and at most 100 %
    ...{part: nmc-18650-3000mah, charge: 80 %, usable_capacity: {temperature: 0 20 degC, share: 100 180 %}}
                                                                                                    ^^^
  try: share: NUMBERS %
)");
}

TEST_CASE("a cell turned round") {
  CHECK(fault({{"cell.plus", "cell.minus"}, {"gnd: [cell.minus", "gnd: [cell.plus"}}) == R"(
bench.yaml:9:9: part 'cell' is connected the wrong way round: its plus is on gnd, its minus on net 'cell+'
      gnd: [cell.plus, drain.b]
            ^^^^^^^^^
  try: exchange cell.plus and cell.minus
  bench.yaml:8:11: minus stands here
      cell+: [cell.minus, drain.a]
              ^^^^^^^^^^
)");
}

TEST_CASE("an empty file") {
  CHECK(fault({{overwinter::test::bench_scenario, ""}}) == R"(
bench.yaml:1:1: the file is empty
  try: fill it line by line, KEY: VALUE, or name another file
)");
}

TEST_CASE("a file of comments") {
  CHECK(fault({{overwinter::test::bench_scenario, "# nothing yet\n"}}) == R"(
bench.yaml:1:1: the file is empty
    # nothing yet
    ^
  try: fill it line by line, KEY: VALUE, or name another file
)");
}

TEST_CASE("plain text") {
  CHECK(fault({{overwinter::test::bench_scenario, "hello\n"}}) == R"(
bench.yaml:1:1: the file must be a mapping of keys to values, not 'hello'
    hello
    ^^^^^
  try: begin its lines with KEY: VALUE
)");
}

TEST_CASE("a weather file as the scenario") {
  CHECK(fault({{overwinter::test::bench_scenario,
                "LOCATION,Invented moor,-,-,INVENTED,999999,56.0,-5.0,0.0,400.0\n"}}) == R"(
bench.yaml:1:1: this is a weather file, not a scenario
  try: name it in a scenario, weather: {file: FILE}, or give it to run with --weather
)");
}
