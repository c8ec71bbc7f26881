#include "sim/replay/weather_input.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sim/input_error.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

const std::string climate = OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml";

Scenario scenario_of(const test::Scratch& scratch, const std::string& weather) {
  std::string text = test::cell_and("{model: load, kind: current, current: 1 mA}", "3.5 3.5", "100");
  text.replace(text.find("{file: still.epw}"), 17, weather);
  text += "site: {latitude: 50 deg, longitude: 0 deg, elevation: 0 m, utc_offset: 0 h}\n";
  return read_scenario(scratch.write("scenario.yaml", text));
}

/// Rows of every hour of 28 February to 2 March, whose air is the year's last two digits.
std::string record(std::initializer_list<int> years) {
  std::string text = "time,light,air\n";
  for (const int year : years) {
    for (Tick day = days_since_epoch({year, 2, 28}); day <= days_since_epoch({year, 3, 2}); ++day) {
      for (int h = 0; h < 24; ++h) {
        text += fmt::format("{} {:02}:00,{},{}\n", iso(civil_date(day)), h, h == 12 ? 100 : 0, year % 100);
      }
    }
  }
  return text;
}

const std::string columns =
    "{file: record.csv, time: {column: time, stamp: begin}, global_horizontal: {column: light, unit: W/m2}, "
    "air_temperature: {column: air, unit: degC}}";

double air(const Weather& w) { return w.intervals().front().ambient.air.si() - zero_celsius.si(); }

}  // namespace

TEST_CASE("weather input: a record is read once for several spans, each with its own days") {
  const test::Scratch scratch;
  scratch.write("record.csv", record({2009, 2010, 2011}));
  const Scenario s = scenario_of(scratch, columns);
  CHECK_FALSE(repeats_every_year(s, std::nullopt));
  const std::vector<DaySpan> spans = {span_in(s, 2009), span_in(s, 2011)};
  const WeatherInput input(s, std::nullopt, spans);
  CHECK(air(input.over(spans[0], std::nullopt)) == doctest::Approx(9));
  CHECK(air(input.over(spans[1], std::nullopt)) == doctest::Approx(11));
  CHECK(input.over(spans[0], std::nullopt).source().sha256 == input.over(spans[1], std::nullopt).source().sha256);
  // 2012 is not in it, and 2010 lacks nothing only because no span wants the months between.
  CHECK_THROWS_AS(WeatherInput(s, std::nullopt, {spans[0], span_in(s, 2012)}), InputError);
}

TEST_CASE("weather input: synthetic weather is the seed's, and another every year") {
  const test::Scratch scratch;
  const Scenario s = scenario_of(scratch, "{synthetic: " + climate + ", seed: 3}");
  CHECK_FALSE(repeats_every_year(s, std::nullopt));
  const DaySpan span = span_in(s, std::nullopt), later = span_in(s, 2026);
  const WeatherInput input(s, std::nullopt, {span, later});
  const auto light = [&](DaySpan of, std::optional<std::uint64_t> seed) {
    double sum = 0;
    const Weather weather = input.over(of, seed);
    for (const WeatherInterval& i : weather.intervals()) sum += i.ambient.sky.global_horizontal.si();
    return sum;
  };
  CHECK(light(span, std::nullopt) == light(span, 3));
  CHECK(light(span, 3) != light(span, 4));
  CHECK(light(span, 3) != light(later, 3));
  CHECK(input.over(span, 5).source().seed == 5);
  CHECK(input.over(span, 5).site().latitude / units::degree == doctest::Approx(50));
}

TEST_CASE("weather input: a station year repeats, also in place of another weather") {
  const test::Scratch scratch;
  const std::string still = scratch.write_weather("still.epw", [](int) { return 0.0; });
  CHECK(repeats_every_year(scenario_of(scratch, "{file: still.epw}"), std::nullopt));
  const Scenario s = scenario_of(scratch, "{synthetic: " + climate + "}");
  CHECK(repeats_every_year(s, still));
  CHECK(s.seed == 1);
  CHECK(weather_of(s, still).source().place == "Test station");
}

TEST_CASE("a span moved to another year keeps its days; a 29 February may become the 28th") {
  Scenario s;
  s.from = {2024, 2, 29};
  s.to = {2025, 3, 31};
  CHECK(iso(span_in(s, std::nullopt).from) == "2024-02-29");
  CHECK(iso(span_in(s, 2025).from) == "2025-02-28");
  CHECK(iso(span_in(s, 2025).to) == "2026-03-31");
  CHECK(iso(span_in(s, 2028).from) == "2028-02-29");
}
