#include "sim/weather/csv_source.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "sim/netlist/document.hpp"
#include "sim/netlist/weather_section.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second, day = 20'011 * ticks_per_day;  // 2024-10-15

/// A file of hours with light in kW/m2 and the air in degF, read an hour east of Greenwich.
struct Opened {
  explicit Opened(const std::string& rows) {
    Faults faults;
    const auto document =
        Document::parse("w.yaml",
                        "weather:\n  file: w.csv\n  time: {column: Time, stamp: begin}\n  separator: semicolon\n"
                        "  global_horizontal: {column: G, unit: kW/m2}\n  air_temperature: {column: 3, unit: degF}\n"
                        "  missing: -999 n/a\n",
                        faults);
    REQUIRE(document.get());
    layout = *read_csv_layout(*document, *document->root().find("weather"), true, faults);
    source.emplace(scratch.write("w.csv", "Time;G;T\n" + rows), layout, hour);
  }

  const test::Scratch scratch;
  CsvLayout layout;
  std::optional<CsvSource> source;
};

}  // namespace

TEST_CASE("CSV source: rows are read in SI with their times in UTC, and what is missing is no number") {
  Opened f("2024-10-15 01:00;0.25;50\n2024-10-15 02:00;-999;n/a\n2024-10-15 03:00;;14\n");
  const auto& rows = f.source->read();
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].time == day);
  CHECK(rows[2].time == day + 2 * hour);
  CHECK(f.source->local(rows[0].time) == "2024-10-15 01:00");
  CHECK(rows[0].values[csv_global] == doctest::Approx(250).epsilon(1e-12));
  CHECK(rows[0].values[csv_air] == doctest::Approx(283.15).epsilon(1e-12));  // 50 degF, by definition
  CHECK(rows[2].values[csv_air] == doctest::Approx(263.15).epsilon(1e-12));
  for (const std::size_t q : {csv_global, csv_air}) CHECK(std::isnan(rows[1].values[q]));
  CHECK(std::isnan(rows[2].values[csv_global]));
  CHECK(std::isnan(rows[0].values[csv_direct]));
  CHECK(f.source->column(csv_direct) == nullptr);
  CHECK(f.source->column(csv_air)->key == "air_temperature");
}

TEST_CASE("CSV source: a fault found later still knows the row's line, column and text") {
  Opened f("2024-10-15 01:00;0.25;50\n2024-10-15 02:00; 99;51\n");
  const auto rows = f.source->read();
  CHECK(f.source->text_of(rows[1], csv_global) == "99");
  const Fault light = f.source->at_value(rows[1], csv_global, "too bright", "less");
  CHECK(light.place.line == 3);
  CHECK(light.place.column == 19);  // behind the blank
  CHECK(light.source_line == "2024-10-15 02:00; 99;51");
  const Fault time = f.source->at_time(rows[0], "too early", "later");
  CHECK(time.place.line == 2);
  CHECK(time.place.column == 1);
  CHECK(f.source->with_missing("99") == "-999 n/a 99");
  f.source->finish_if_faulty();
  f.source->fault(light);
  CHECK_FALSE(f.source->full());
  CHECK_THROWS_AS(f.source->finish_if_faulty(), InputError);
}

TEST_CASE("CSV source: reading stops after twenty faults") {
  std::string rows = "2024-10-15 00:00;0;50\n";
  for (int i = 0; i < 30; ++i) rows += "2024-10-15 01:00;dark;50\n";
  Opened f(rows);
  try {
    f.source->read();
    FAIL("the light is no number");
  } catch (const InputError& e) {
    CHECK(std::string(e.what()).find("reading stopped here") != std::string::npos);
  }
}
