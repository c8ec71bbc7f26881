#include "sim/weather/csv.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <string>

#include "sim/input_error.hpp"
#include "sim/netlist/document.hpp"
#include "sim/netlist/weather_section.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

constexpr Tick minute = 60 * ticks_per_second, hour = 60 * minute;
const std::string time_at_end = "  time: {column: Time, stamp: end}\n";
const std::string columns =
    "  global_horizontal: {column: G, unit: W/m2}\n  air_temperature: {column: T, unit: degC}\n";
const std::string bridged = "  fill: 24 h\n";

Site east_by(double hours) {
  Site site;
  site.utc_offset = hours * units::hour;
  return site;
}

MeasuredRecord read(const std::string& text, const std::string& section, CivilDate from = {2024, 10, 15},
                    CivilDate to = {2024, 10, 15}, const Site& site = Site{}) {
  Faults faults;
  const auto document = Document::parse("w.yaml", "weather:\n  file: w.csv\n" + section, faults);
  REQUIRE(document.get());
  const auto layout = read_csv_layout(*document, *document->root().find("weather"), true, faults);
  REQUIRE(layout);
  const test::Scratch scratch;
  return read_csv(scratch.write("w.csv", text), *layout, site, {{from, to}});
}

/// Rows of a day from 2024-10-15 00:00 on, stamped at their ends, with the row's number as light.
std::string day_of(
    Tick step, const std::function<bool(int)>& has = [](int) { return true; }) {
  std::string text = "Time,G,T\n";
  for (int i = 0; i < ticks_per_day / step; ++i) {
    if (has(i)) text += fmt::format("{},{},{}\n", clock_text(20'011 * ticks_per_day + (i + 1) * step), i, i / 100.0);
  }
  return text;
}

}  // namespace

TEST_CASE("a day of rows of any step from a minute to a day") {
  for (const Tick step : {minute, 5 * minute, 15 * minute, hour, 3 * hour}) {
    CAPTURE(step / minute);
    const MeasuredRecord r = read(day_of(step), time_at_end + columns);
    CHECK(r.begin == 20'011 * ticks_per_day);
    CHECK(r.step == step);
    CHECK(r.rows.size() == static_cast<std::size_t>(ticks_per_day / step));
    for (std::size_t i = 0; i < r.rows.size(); ++i) {
      REQUIRE(r.rows[i].global_horizontal == static_cast<double>(i));
      REQUIRE(r.rows[i].air_celsius == doctest::Approx(static_cast<double>(i) / 100));
      REQUIRE(std::isnan(r.rows[i].beam_normal));
      REQUIRE(std::isnan(r.rows[i].diffuse_horizontal));
    }
    CHECK(r.warnings.empty());
  }
  const MeasuredRecord days = read("Time,G,T\n2024-10-15,100,5\n2024-10-16,50,6\n",
                                   "  time: {column: Time, stamp: begin}\n" + columns, {2024, 10, 15}, {2024, 10, 16});
  CHECK(days.step == ticks_per_day);
  CHECK(days.rows[1].global_horizontal == 50);
}

TEST_CASE("where the stamp stands in its interval, and on which clock") {
  const auto begin = [](const std::string& time, const Site& site = Site{}) {
    std::string text = "Time,G,T\n";
    for (int i = 0; i < 72; ++i) text += fmt::format("{},0,5\n", clock_text(20'010 * ticks_per_day + i * hour));
    return read(text, "  time: {column: Time, " + time + "}\n" + columns, {2024, 10, 15}, {2024, 10, 15}, site).begin;
  };
  const Tick first = 20'010 * ticks_per_day;
  CHECK(begin("stamp: begin") == first);
  CHECK(begin("stamp: middle") == first - hour / 2);
  CHECK(begin("stamp: end") == first - hour);
  CHECK(begin("stamp: begin", east_by(2)) == first - 2 * hour);
  CHECK(begin("stamp: begin, utc_offset: -3 h", east_by(2)) == first + 3 * hour);
}

TEST_CASE("times with their own offset may change it: a summer time that ends") {
  const MeasuredRecord r = read(
      "Time,G,T\n2024-10-27T01:00+02:00,1,1\n2024-10-27T02:00+02:00,2,1\n2024-10-27T02:00+01:00,3,1\n"
      "2024-10-27T03:00+01:00,4,1\n2024-10-27T23:00+01:00,5,1\n2024-10-27T23:00Z,6,1\n2024-10-28T22:00Z,7,1\n",
      "  time: {column: Time, stamp: begin, utc_offset: 9 h}\n" + columns + bridged, {2024, 10, 27}, {2024, 10, 27});
  CHECK(r.step == hour);
  CHECK(r.begin == (20'023 * 24 - 1) * hour);
  CHECK(r.rows[2].global_horizontal == 3);
  CHECK(r.rows[3].global_horizontal == 4);
}

TEST_CASE("numbers since a time, days and clocks in two columns, and forms") {
  const std::string of_count =
      "  time: {column: 1, unit: h, since: 2024-10-15 00:00, stamp: begin}\n"
      "  global_horizontal: {column: 2, unit: W/m2}\n"
      "  air_temperature: {column: 3, unit: K}\n  header: 0\n";
  const MeasuredRecord count = read("0,1,273.15\n0.5,2,274.15\n1,3,275.15\n23.5,4,276.15\n", of_count + bridged);
  CHECK(count.step == hour / 2);
  CHECK(count.begin == 20'011 * ticks_per_day);
  CHECK(count.rows[2].air_celsius == doctest::Approx(2));
  const MeasuredRecord two = read(
      "station "
      "7\nDay;Clock;G;T\n;;W/m2;degC\n15.10.2024;00:30;1,5;-1,25\n15.10.2024;01:00;2;-2\n15.10.2024;24:00;3;0\n",
      "  time: {column: Day, clock: Clock, form: DD.MM.YYYY hh:mm, stamp: end}\n" + columns + bridged +
          "  separator: semicolon\n  decimal: comma\n  header: 2\n  rows_from: 4\n");
  CHECK(two.step == hour / 2);
  CHECK(two.rows[0].global_horizontal == 1.5);
  CHECK(two.rows[0].air_celsius == doctest::Approx(-1.25));
}

TEST_CASE("sums over the interval become means") {
  const MeasuredRecord r = read("Time,G,T\n2024-10-15,8.64,5\n2024-10-16,4.32,5\n",
                                "  time: {column: Time, stamp: begin}\n  global_horizontal: {column: G, unit: MJ/m2}\n"
                                "  air_temperature: {column: T, unit: degC}\n");
  CHECK(r.rows[0].global_horizontal == doctest::Approx(100).epsilon(1e-12));
  CHECK(r.rows[1].global_horizontal == doctest::Approx(50).epsilon(1e-12));
}

TEST_CASE("a short gap is filled by a straight line, row by row or value by value, and told") {
  const MeasuredRecord rows = read(day_of(hour, [](int i) { return i < 5 || i > 7; }), time_at_end + columns);
  for (std::size_t i = 4; i < 9; ++i) CHECK(rows.rows[i].global_horizontal == doctest::Approx(static_cast<double>(i)));
  CHECK(rows.warnings == std::vector<std::string>{"a gap is filled by straight lines between the values around it: "
                                                  "3 rows, the longest 3 h from 2024-10-15 05:00"});
  std::string text = day_of(hour);
  text.replace(text.find("10:00,9,"), 8, "10:00,-999,");
  text.replace(text.find("15:00,14,0.14"), 13, "15:00,14,");
  const MeasuredRecord values = read(text, time_at_end + columns + "  missing: NaN -999\n");
  CHECK(values.rows[9].global_horizontal == doctest::Approx(9));
  CHECK(values.rows[9].air_celsius == doctest::Approx(0.09));
  CHECK(values.rows[14].air_celsius == doctest::Approx(0.14));
  CHECK(values.warnings == std::vector<std::string>{"2 gaps are filled by straight lines between the values around "
                                                    "them: 2 rows, the longest 1 h from 2024-10-15 09:00"});
}

TEST_CASE("light that is missing while the sun is down is none, whatever the gap") {
  std::string text = "Time,G,T\n";  // on the equator, where the sun is up from 5:42 to 17:49
  for (int i = 0; i < 24; ++i) {
    text += fmt::format("{},{},5\n", clock_text(20'011 * ticks_per_day + i * hour), i >= 5 && i < 18 ? "7" : "");
  }
  const MeasuredRecord r = read(text, "  time: {column: Time, stamp: begin}\n" + columns);
  CHECK(r.rows[4].global_horizontal == 0);
  CHECK(r.rows[5].global_horizontal == 7);
  CHECK(r.rows[17].global_horizontal == 7);
  CHECK(r.rows[18].global_horizontal == 0);
  CHECK(r.warnings.empty());
  text.replace(text.find("05:00,7"), 7, "05:00,");  // its last minutes are sunlit
  CHECK(read(text, "  time: {column: Time, stamp: begin}\n" + columns).warnings.size() == 1);
}

TEST_CASE("a long gap matters only where the span needs it") {
  std::string text = "Time,G,T\n";
  for (int i = 0; i < 72; ++i) {
    if (i < 30 || i > 40) text += fmt::format("{},7,5\n", clock_text(20'010 * ticks_per_day + i * hour));
  }
  const std::string section = "  time: {column: Time, stamp: begin}\n" + columns;
  CHECK_THROWS_AS(read(text, section, {2024, 10, 15}, {2024, 10, 15}), InputError);
  CHECK_THROWS_AS(read(text, section, {2024, 10, 14}, {2024, 10, 16}), InputError);
  const MeasuredRecord before = read(text, section, {2024, 10, 14}, {2024, 10, 14});
  CHECK(before.rows.size() == 72);
  CHECK(std::isnan(before.rows[35].air_celsius));
  CHECK(!std::isnan(before.rows[41].air_celsius));
  CHECK_NOTHROW(read(text, section + "  fill: 11 h\n", {2024, 10, 15}, {2024, 10, 15}));
}

TEST_CASE("a little light below zero counts as none, and is told") {
  std::string text = day_of(hour);
  text.replace(text.find("01:00,0,"), 8, "01:00,-3.25,");
  text.replace(text.find("02:00,1,"), 8, "02:00,-1,");
  const MeasuredRecord r = read(text, time_at_end + columns);
  CHECK(r.rows[0].global_horizontal == 0);
  CHECK(r.warnings == std::vector<std::string>{"light below zero, which is a sensor's offset at night, counts as zero: "
                                               "2 values, down to -3.2 W/m2"});
}

TEST_CASE("a record that does not cover the span") {
  const std::string text = day_of(hour);
  CHECK_NOTHROW(read(text, time_at_end + columns));
  CHECK_THROWS_AS(read(text, time_at_end + columns, {2024, 10, 14}, {2024, 10, 15}), InputError);
  CHECK_THROWS_AS(read(text, time_at_end + columns, {2024, 10, 15}, {2024, 10, 16}), InputError);
  CHECK_NOTHROW(read(text, time_at_end + columns, {2024, 10, 15}, {2024, 10, 15}, east_by(1)));
  const std::string utc = "  time: {column: Time, stamp: end, utc_offset: 0 h}\n";
  CHECK_THROWS_AS(read(text, utc + columns, {2024, 10, 15}, {2024, 10, 15}, east_by(1)), InputError);
}
