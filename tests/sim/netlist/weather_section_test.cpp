#include "sim/netlist/weather_section.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace overwinter;

namespace {

/// What stands in a weather section, each a line.
CsvLayout layout_of(const std::string& lines) {
  Faults faults;
  const auto document = Document::parse("w.yaml", "weather:\n  file: w.csv\n" + lines, faults);
  REQUIRE(document.get());
  const auto layout = read_csv_layout(*document, *document->root().find("weather"), true, faults);
  for (const Fault& f : faults.all()) FAIL(f.message);
  REQUIRE(layout);
  return *layout;
}

const std::string air = "  air_temperature: {column: T, unit: degC}\n";
const std::string time_at_end = "  time: {column: When, stamp: end}\n";
const std::string light = "  global_horizontal: {column: 3, unit: W/m2}\n";

}  // namespace

TEST_CASE("a weather section with nothing but a file describes no columns") {
  Faults faults;
  const auto document = Document::parse("w.yaml", "weather: {file: w.epw}\n", faults);
  CHECK(!read_csv_layout(*document, *document->root().find("weather"), false, faults));
  CHECK(faults.empty());
}

TEST_CASE("columns, their units and what is taken where nothing is said") {
  const CsvLayout l = layout_of(time_at_end + light + air);
  CHECK(l.time.column.name == "When");
  CHECK(l.time.stamp == Stamp::end);
  CHECK(!l.time.utc_offset);
  CHECK(!l.time.clock);
  CHECK(!l.time.since);
  REQUIRE(l.global_horizontal);
  CHECK(l.global_horizontal->name == "3");
  CHECK(l.global_horizontal->scale == 1);
  CHECK(l.global_horizontal->offset == 0);
  CHECK(!l.global_horizontal->sum);
  CHECK(l.global_horizontal->named_at.place.line == 4);
  CHECK(!l.direct_normal);
  CHECK(!l.diffuse_horizontal);
  CHECK(l.air.scale == 1);
  CHECK(l.air.offset == 273.15);
  CHECK(csv_separators[l.format.separator] == ',');
  CHECK(!l.format.decimal_comma);
  CHECK(l.format.header == 1);
  CHECK(l.format.fill == 3 * units::hour);
}

TEST_CASE("a unit of energy makes a column a sum over the row's interval") {
  const CsvLayout l =
      layout_of(time_at_end + "  direct_normal: {column: B, unit: MJ/m2}\n" +
                "  diffuse_horizontal: {column: D, unit: J/cm2}\n" + "  air_temperature: {column: T, unit: degF}\n");
  CHECK(l.direct_normal->sum);
  CHECK(l.direct_normal->scale == doctest::Approx(1e6));
  CHECK(l.diffuse_horizontal->sum);
  CHECK(l.diffuse_horizontal->scale == doctest::Approx(1e4));
  CHECK(l.air.offset + 212 * l.air.scale == doctest::Approx(373.15));
}

TEST_CASE("times in a form, in two columns, on a clock of their own; numbers since a time") {
  const CsvLayout two = layout_of(
      "  time: {column: Day, clock: Hour, form: DD.MM.YYYY hh:mm, utc_offset: 2 h, stamp: begin}\n" + light + air);
  CHECK(two.time.clock->name == "Hour");
  CHECK(two.time.form.text() == "DD.MM.YYYY hh:mm");
  CHECK(two.time.utc_offset == 2 * units::hour);
  CHECK(two.time.stamp == Stamp::begin);
  const CsvLayout count =
      layout_of("  time: {column: t, unit: min, since: 2024-10-15 12:00, stamp: middle}\n" + light + air);
  CHECK(count.time.column.scale == 60);
  CHECK(count.time.since->local == 20'011 * ticks_per_day + ticks_per_day / 2);
  CHECK(count.time.stamp == Stamp::middle);
}

TEST_CASE("how the file is written") {
  const CsvLayout l = layout_of(time_at_end + light + air +
                                "  separator: tab\n  decimal: comma\n  missing: -999 NaN\n  header: 2\n"
                                "  rows_from: 5\n  fill: 20 min\n");
  CHECK(csv_separators[l.format.separator] == '\t');
  CHECK(l.format.decimal_comma);
  CHECK(l.format.missing == "-999 NaN");
  CHECK(l.format.header == 2);
  CHECK(l.format.rows_from == 5);
  CHECK(l.format.fill.si() == 1200);
}
