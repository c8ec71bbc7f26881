// What a person reads about a faulty CSV weather file, or a scenario that describes its columns wrongly.
#include <doctest/doctest.h>

#include "sim/replay/replay.hpp"
#include "tests/support/bench_scenario.hpp"

using namespace overwinter;

namespace {

const char* const mast =
    "Time,GHI,T\n"
    "2024-10-15,50,7.1\n"
    "2024-10-16,40,6.0\n"
    "2024-10-17,30,5.5\n"
    "2024-10-18,45,6.2\n"
    "2024-10-19,20,4.8\n"
    "2024-10-20,10,4.0\n";

const char* const section =
    "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\n"
    "weather:\n"
    "  file: mast.csv\n"
    "  time: {column: Time, stamp: begin}\n"
    "  global_horizontal: {column: GHI, unit: W/m2}\n"
    "  air_temperature: {column: T, unit: degC}\n";

/// The whole message about the bench scenario with that weather, after a line end; empty if it is accepted.
std::string fault(const test::Edits& in_scenario, const test::Edits& in_file = {}, std::string file = mast) {
  const test::WorkingFolder folder;
  folder.write("mast.csv", test::edited(in_file, std::move(file)));
  test::Edits edits = {{"weather: {file: bog.epw}\n", section}};
  edits.insert(edits.end(), in_scenario.begin(), in_scenario.end());
  folder.write("bench.yaml", test::edited(edits));
  try {
    weather_of(read_scenario("bench.yaml"), std::nullopt);
  } catch (const InputError& error) {
    for (const Fault& f : error.faults()) CHECK_MESSAGE(!f.suggestion.empty(), f.message);
    return std::string("\n") + error.what() + "\n";
  }
  return {};
}

}  // namespace

TEST_CASE("CSV weather: the sound one is accepted") { CHECK(fault({}).empty()); }

TEST_CASE("CSV weather: columns that are not described enough") {
  CHECK(fault({{"  time: {column: Time, stamp: begin}\n", ""}}) == R"(
bench.yaml:4:1: weather lacks time
    weather:
    ^^^^^^^
  try: time: {column: TEXT, stamp: begin or middle or end}
)");
  CHECK(fault({{"  air_temperature: {column: T, unit: degC}\n", ""}}) == R"(
bench.yaml:4:1: weather lacks air_temperature
    weather:
    ^^^^^^^
  try: air_temperature: {column: TEXT, unit: TEXT}
)");
  CHECK(fault({{"  global_horizontal: {column: GHI, unit: W/m2}\n", ""}}) == R"(
bench.yaml:4:1: weather lacks global_horizontal
    weather:
    ^^^^^^^
  try: global_horizontal: {column: TEXT, unit: TEXT}, or direct_normal and diffuse_horizontal
)");
  CHECK(fault({{"global_horizontal", "direct_normal"}}) == R"(
bench.yaml:7:3: the light cannot be worked out from direct_normal alone
      direct_normal: {column: GHI, unit: W/m2}
      ^^^^^^^^^^^^^
  try: global_horizontal or diffuse_horizontal beside it
)");
  CHECK(fault({{", stamp: begin", ""}}) == R"(
bench.yaml:6:3: time lacks stamp
      time: {column: Time}
      ^^^^
  try: stamp: begin or middle or end (where in the interval that a row stands for its time stamp lies)
)");
  CHECK(fault({{"stamp: begin", "stamp: start"}}) == R"(
bench.yaml:6:31: stamp must be begin or middle or end, not 'start'
      time: {column: Time, stamp: start}
                                  ^^^^^
  try: stamp: begin or middle or end (where in the interval that a row stands for its time stamp lies)
)");
  CHECK(fault({{"site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\n", ""}}) == R"(
bench.yaml:3:1: a CSV file does not say where it was recorded, and the scenario has no site
    weather:
    ^^^^^^^
  try: site: {latitude: NUMBER deg, longitude: NUMBER deg, elevation: NUMBER m, utc_offset: NUMBER h}
)");
  CHECK(fault({{"global_horizontal: {column: GHI, unit: W/m2}", "global_horizontal: GHI"}}) == R"(
bench.yaml:7:22: global_horizontal must be a mapping, not 'GHI'
      global_horizontal: GHI
                         ^^^
  try: global_horizontal: {column: TEXT, unit: TEXT}
)");
}

TEST_CASE("CSV weather: units") {
  CHECK(fault({{"unit: degC", "unit: celcius"}}) == R"(
bench.yaml:8:38: the unit 'celcius' is not known; air_temperature is given in degC
      air_temperature: {column: T, unit: celcius}
                                         ^^^^^^^
  try: unit: degC
)");
  CHECK(fault({{"unit: W/m2", "unit: kW"}}) == R"(
bench.yaml:7:42: 'kW' measures a power; global_horizontal is given in W/m2
      global_horizontal: {column: GHI, unit: kW}
                                             ^^
  try: unit: W/m2
)");
  CHECK(fault({{"unit: W/m2}", "unit: W/M2}"}}) == R"(
bench.yaml:7:42: the unit 'W/M2' is not known; global_horizontal is given in W/m2
      global_horizontal: {column: GHI, unit: W/M2}
                                             ^^^^
  try: unit: W/m2
)");
}

TEST_CASE("CSV weather: times described wrongly") {
  CHECK(fault({{"stamp: begin", "stamp: begin, form: DD.MM.YY"}}) == R"(
bench.yaml:6:50: form has a 'Y' that is no part of a time
      time: {column: Time, stamp: begin, form: DD.MM.YY}
                                                     ^
  try: write YYYY, MM, DD, hh, mm and ss, such as DD.MM.YYYY hh:mm
)");
  CHECK(fault({{"stamp: begin", "stamp: begin, unit: s"}}) == R"(
bench.yaml:6:38: time has unit without since
      time: {column: Time, stamp: begin, unit: s}
                                         ^^^^
  try: since: YYYY-MM-DD hh:mm
)");
  CHECK(fault({{"stamp: begin", "stamp: begin, unit: s, since: 15.10.2024"}}) == R"(
bench.yaml:6:54: since must be a time written YYYY-MM-DD hh:mm, not '15.10.2024'
      time: {column: Time, stamp: begin, unit: s, since: 15.10.2024}
                                                         ^^^^^^^^^^
  try: since: YYYY-MM-DD hh:mm
)");
  CHECK(fault({{"stamp: begin", "stamp: begin, unit: s, since: 2024-10-15, form: YYYY-MM-DD"}}) == R"(
bench.yaml:6:66: numbers since a time need no form
      time: {column: Time, stamp: begin, unit: s, since: 2024-10-15, form: YYYY-MM-DD}
                                                                     ^^^^
  try: remove it, or unit and since
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  header: 3\n  rows_from: 3\n"}}) == R"(
bench.yaml:7:14: the rows begin at the header or above it
      rows_from: 3
                 ^
  try: rows_from: 4
)");
}

TEST_CASE("CSV weather: columns that are not there") {
  CHECK(fault({{"column: GHI", "column: GHl"}}) == R"(
mast.csv:1:1: no column is named 'GHl', for global_horizontal
    Time,GHI,T
    ^
  try: column: GHI
  bench.yaml:7:31: the scenario names it here
      global_horizontal: {column: GHl, unit: W/m2}
                                  ^^^
)");
  CHECK(fault({{"column: T,", "column: 4,"}}) == R"(
mast.csv:1:1: there is no column 4 for air_temperature: the row has 3
    Time,GHI,T
    ^
  try: a number from 1 to 3
  bench.yaml:8:29: the scenario names it here
      air_temperature: {column: 4, unit: degC}
                                ^
)");
  CHECK(fault({}, {{"GHI,T", "T,T"}}) == R"(
mast.csv:1:1: no column is named 'GHI', for global_horizontal
    Time,T,T
    ^
  try: one of Time, T, T
  bench.yaml:7:31: the scenario names it here
      global_horizontal: {column: GHI, unit: W/m2}
                                  ^^^

mast.csv:1:8: two columns are named 'T', 2 and 3
    Time,T,T
           ^
  try: column: 2, or column: 3
  bench.yaml:8:29: the scenario names it here
      air_temperature: {column: T, unit: degC}
                                ^
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  header: 0\n"},
               {"column: Time", "column: 1"},
               {"column: GHI", "column: 2"}}) == R"(
mast.csv:1:1: no column is named 'T', for air_temperature
    Time,GHI,T
    ^
  try: the column's number, from 1, or header: the line with the names
  bench.yaml:9:29: the scenario names it here
      air_temperature: {column: T, unit: degC}
                                ^
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  header: 30\n"}}) == R"(
mast.csv: the file has no line 30, where its header should be
  try: header: the line with the names of the columns
)");
  CHECK(fault({}, {}, "Time;GHI;T\n2024-10-15;5;7,1\n") == R"(
mast.csv:1:1: the line has only one column
    Time;GHI;T
    ^
  try: separator: semicolon
)");
}

TEST_CASE("CSV weather: times that are none, out of order, or not evenly apart") {
  CHECK(fault({}, {}, "Time,GHI,T\n15.10.2024,50,7.1\n16.10.2024,40,6.0\n") == R"(
mast.csv:2:1: '15.10.2024' is not a time written YYYY-MM-DD hh:mm
    15.10.2024,50,7.1
    ^^^^^^^^^^
  try: form: DD.MM.YYYY
)");
  CHECK(fault({}, {{"Time,GHI,T\n", "Time,GHI,T\nday,W/m2,degC\n"}}) == R"(
mast.csv:2:1: 'day' is not a time written YYYY-MM-DD hh:mm
    day,W/m2,degC
    ^^^
  try: rows_from: 3
)");
  CHECK(fault({}, {}, "Time,GHI,T\n4/5/2024,50,7.1\n") == R"(
mast.csv:2:1: '4/5/2024' is not a time written YYYY-MM-DD hh:mm
    4/5/2024,50,7.1
    ^^^^^^^^
  try: form: one of DD/MM/YYYY, MM/DD/YYYY
)");
  CHECK(fault({}, {{"2024-10-17", "2024-10-32"}}) == R"(
mast.csv:4:1: '2024-10-32' is not a time written YYYY-MM-DD hh:mm
    2024-10-32,30,5.5
    ^^^^^^^^^^
  try: write it like the others, or remove the row
)");
  CHECK(fault({}, {{"2024-10-18", "2024-10-17"}}) == R"(
mast.csv:5:1: this row has the same time as the one before it
    2024-10-17,45,6.2
    ^^^^^^^^^^
  try: put the rows in order, each once; where a clock is put back in autumn, times need their offset from UTC
)");
  CHECK(fault({}, {{"2024-10-18", "2024-10-15"}}) == R"(
mast.csv:5:1: this row is 2024-10-15 00:00, earlier than the one before it
    2024-10-15,45,6.2
    ^^^^^^^^^^
  try: put the rows in order, each once; where a clock is put back in autumn, times need their offset from UTC
)");
  CHECK(fault({}, {{"2024-10-18,", "2024-10-18 12:00,"}}) == R"(
mast.csv:5:1: this row comes 36 h after the one before it, the others are 24 h apart
    2024-10-18 12:00,45,6.2
    ^^^^^^^^^^^^^^^^
  try: give rows that are evenly apart; whole rows may be missing

mast.csv:6:1: this row comes 12 h after the one before it, the others are 24 h apart
    2024-10-19,20,4.8
    ^^^^^^^^^^
  try: give rows that are evenly apart; whole rows may be missing
)");
  CHECK(fault({}, {{"2024-10-20,", "2034-10-20,"}}) == R"(
mast.csv:7:1: this row is 2034-10-20 00:00, 3653 d after the one before it
    2034-10-20,10,4.0
    ^^^^^^^^^^
  try: correct its time, or give a record without years between its rows
)");
  CHECK(fault({}, {}, "Time,GHI,T\n2024-10-15 00:00:00,5,7\n2024-10-15 00:00:10,5,7\n2024-10-15 00:00:20,5,7\n") == R"(
mast.csv:3:1: the rows are 10 s apart
    2024-10-15 00:00:10,5,7
    ^^^^^^^^^^^^^^^^^^^
  try: give a file with a row every minute to every day
)");
}

TEST_CASE("CSV weather: a clock that is put back in autumn") {
  const std::string hours = "Time,GHI,T\n2024-10-27 00:00,0,5\n2024-10-27 01:00,0,4\n2024-10-27 02:00,0,3.5\n";
  CHECK(fault({}, {}, hours + "2024-10-27 02:00,0,3.1\n2024-10-27 03:00,0,3\n") == R"(
mast.csv:5:1: the clock is put back by an hour here, from 2024-10-27 02:00 to 2024-10-27 02:00, as daylight saving time does; utc_offset is standard time
    2024-10-27 02:00,0,3.1
    ^^^^^^^^^^^^^^^^
  try: times in standard time the year round, or each with its offset from UTC, such as 2024-07-01T12:00+02:00
)");
  // Both nights, and each once, however many rows the hour has.
  CHECK(fault({}, {},
              "Time,GHI,T\n2024-03-31 01:30,0,5\n2024-03-31 03:00,0,4\n2024-03-31 03:30,0,4\n"
              "2024-10-27 02:00,0,5\n2024-10-27 02:30,0,4\n2024-10-27 02:00,0,3.5\n2024-10-27 02:30,0,3\n"
              "2024-10-27 03:00,0,3\n") == R"(
mast.csv:7:1: the clock is put back by an hour here, from 2024-10-27 02:30 to 2024-10-27 02:00, after it was put forward at 2024-03-31 01:30, as daylight saving time does; utc_offset is standard time
    2024-10-27 02:00,0,3.5
    ^^^^^^^^^^^^^^^^
  try: times in standard time the year round, or each with its offset from UTC, such as 2024-07-01T12:00+02:00
)");
  // A row that is there twice, and one that is two hours back, are something else.
  for (const char* row : {"2024-10-27 02:00,0,3.5\n", "2024-10-27 01:00,0,3.1\n"}) {
    CHECK(fault({}, {}, hours + row + "2024-10-27 03:00,0,3\n").find("put the rows in order") != std::string::npos);
  }
}

TEST_CASE("CSV weather: values that are none or out of range") {
  CHECK(fault({}, {{"30,5.5", "n/a,5.5"}}) == R"(
mast.csv:4:12: global_horizontal 'n/a' is not a number
    2024-10-17,n/a,5.5
               ^^^
  try: correct it; or, where it stands for no value, missing: n/a
)");
  CHECK(fault({}, {{"30,5.5", "-999,5.5"}}) == R"(
mast.csv:4:12: global_horizontal -999 W/m2 is out of range
    2024-10-17,-999,5.5
               ^^^^
  try: a value in -30...2000 W/m2, or the column's right unit; where it stands for no value, missing: -999
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  missing: NaN\n"}}, {{"5.5", "-99.9"}}) == R"(
mast.csv:4:15: air_temperature -99.9 degC is out of range
    2024-10-17,30,-99.9
                  ^^^^^
  try: a value in -90...70 degC, or the column's right unit; where it stands for no value, missing: NaN -99.9
)");
  CHECK(fault({{"unit: W/m2", "unit: kWh/m2"}}, {{"30,5.5", "60,5.5"}}) == R"(
mast.csv:2:12: global_horizontal 50 kWh/m2, 2083 W/m2 over 24 h, is out of range
    2024-10-15,50,7.1
               ^^
  try: a value in -30...2000 W/m2, or the column's right unit; where it stands for no value, missing: 50

mast.csv:4:12: global_horizontal 60 kWh/m2, 2500 W/m2 over 24 h, is out of range
    2024-10-17,60,5.5
               ^^
  try: a value in -30...2000 W/m2, or the column's right unit; where it stands for no value, missing: 60
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  separator: semicolon\n"}}, {},
              "Time;GHI;T\n2024-10-15;5;7,1\n2024-10-16;5;7\n") == R"(
mast.csv:2:14: air_temperature '7,1' is not a number
    2024-10-15;5;7,1
                 ^^^
  try: decimal: comma
)");
}

TEST_CASE("CSV weather: rows cut off, quotes that do not close, files that hold nothing") {
  CHECK(fault({}, {{"2024-10-18,45,6.2", "2024-10-18,45"}}) == R"(
mast.csv:5:12: the row has 2 columns, 3 are needed
    2024-10-18,45
               ^^
  try: complete the row, or remove it: it may have been cut off
)");
  CHECK(fault({}, {{"2024-10-18,45,6.2", "2024-10-18,45,6.2,9"}}) == R"(
mast.csv:5:19: the row has 4 columns, the first row has 3
    2024-10-18,45,6.2,9
                      ^
  try: remove what is too much
)");
  CHECK(fault({}, {}, "Time,GHI,T\n2024-10-15,50,7,1\n2024-10-16,40,6,0\n") == R"(
mast.csv:2:17: the row has 4 columns, the header has 3
    2024-10-15,50,7,1
                    ^
  try: name every column; a decimal comma needs another separator, or quotes around its numbers

mast.csv:3:17: the row has 4 columns, the header has 3
    2024-10-16,40,6,0
                    ^
  try: name every column; a decimal comma needs another separator, or quotes around its numbers
)");
  CHECK(fault({}, {{"2024-10-18,45", "2024-10-18,\"45"}}) == R"(
mast.csv:5:1: a quotation mark in the row that begins here is not closed, or stands amid a value
    2024-10-18,"45,6.2
    ^
  try: close it, or write it twice where it is part of a value in quotes
)");
  CHECK(fault({}, {}, "") == R"(
mast.csv: the weather file is empty
  try: give a CSV file
)");
  CHECK(fault({}, {}, "Time,GHI,T\n") == R"(
mast.csv: the file has no rows
  try: rows_from: the line where the rows begin
)");
  CHECK(fault({}, {}, "LOCATION,Moor,-,-\n") == R"(
mast.csv: this file is in the EPW layout, whose columns are known
  try: leave nothing but the file in the weather section
)");
}

TEST_CASE("CSV weather: gaps too long, and a span that the rows do not cover") {
  CHECK(fault({}, {{"2024-10-17,30,5.5\n", ""}}) == R"(
mast.csv:4:1: nothing is recorded from 2024-10-17 00:00 to 2024-10-18 00:00 (24 h)
    2024-10-18,45,6.2
    ^^^^^^^^^^
  try: a span without it, or fill: 24 h, which draws straight lines across it
)");
  CHECK(fault({{"file: mast.csv\n", "file: mast.csv\n  fill: 1 d\n"}},
              {{"2024-10-17,30,5.5\n", ""}, {"2024-10-18,45,6.2\n", ""}}) == R"(
mast.csv:4:1: nothing is recorded from 2024-10-17 00:00 to 2024-10-19 00:00 (2 d)
    2024-10-19,20,4.8
    ^^^^^^^^^^
  try: a span without it, or fill: 48 h, which draws straight lines across it
)");
  CHECK(fault({}, {{"40,6.0", ",6.0"}, {"45,6.2", ",6.2"}}) == R"(
mast.csv:3:1: there is no global_horizontal from 2024-10-16 00:00 to 2024-10-17 00:00 (24 h), and in 1 other gap
    2024-10-16,,6.0
    ^^^^^^^^^^
  try: a span without it, or fill: 24 h, which draws straight lines across it
)");
  CHECK(fault({}, {{"2024-10-15,50,7.1\n", ""}}) == R"(
mast.csv:2:1: the rows cover 2024-10-16 00:00 to 2024-10-21 00:00, not the whole span, 2024-10-15 to 2024-10-20
    2024-10-16,40,6.0
    ^^^^^^^^^^
  try: span: {from: 2024-10-16, to: 2024-10-20}
)");
  CHECK(fault({}, {{"2024-10-20,10,4.0\n", ""}}) == R"(
mast.csv:6:1: the rows cover 2024-10-15 00:00 to 2024-10-20 00:00, not the whole span, 2024-10-15 to 2024-10-20
    2024-10-19,20,4.8
    ^^^^^^^^^^
  try: span: {from: 2024-10-15, to: 2024-10-19}
)");
}
