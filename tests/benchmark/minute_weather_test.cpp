#include "tools/benchmark/minute_weather.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "sim/weather/epw.hpp"
#include "tools/benchmark/course.hpp"

using namespace overwinter;

TEST_CASE("benchmark: rows by the minute keep each hour's light, and clouds spread it") {
  const Scenario scenario = first_days(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-ten-minutes.yaml", 3);
  const StationYear station = read_epw(scenario.weather_file);
  const MeasuredRecord hourly = measured_record(station, scenario, Rows::hourly),
                       minutes = measured_record(station, scenario, Rows::minutes),
                       clouds = measured_record(station, scenario, Rows::clouds);
  REQUIRE(hourly.rows.size() == 72);
  REQUIRE(minutes.rows.size() == 72 * 60);
  REQUIRE(clouds.rows.size() == 72 * 60);
  CHECK(hourly.step == 60 * minutes.step);
  // 15 October is day 287 of a year without a leap day, counted from 0.
  CHECK(hourly.rows[12].global_horizontal == station.hours[287 * 24 + 12].global_horizontal);
  std::size_t lit = 0, spread = 0;
  for (std::size_t h = 0; h < 72; ++h) {
    double sum = 0, least = 1e9, most = 0;
    for (std::size_t m = 60 * h; m < 60 * (h + 1); ++m) {
      CHECK(minutes.rows[m].global_horizontal == hourly.rows[h].global_horizontal);
      const double light = clouds.rows[m].global_horizontal;
      sum += light;
      least = std::min(least, light);
      most = std::max(most, light);
    }
    CHECK(sum / 60 == doctest::Approx(hourly.rows[h].global_horizontal).epsilon(1e-9));
    if (hourly.rows[h].global_horizontal < 1) continue;
    ++lit;
    if (most > 4 * least) ++spread;
  }
  CHECK(lit > 25);
  CHECK(10 * spread >= 9 * lit);
}

TEST_CASE("benchmark: the same clouds at every call") {
  const Scenario scenario = first_days(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-ten-minutes.yaml", 1);
  const StationYear station = read_epw(scenario.weather_file);
  const MeasuredRecord a = measured_record(station, scenario, Rows::clouds),
                       b = measured_record(station, scenario, Rows::clouds);
  CHECK(std::equal(
      a.rows.begin(), a.rows.end(), b.rows.begin(), b.rows.end(),
      [](const MeasuredRow& x, const MeasuredRow& y) { return x.global_horizontal == y.global_horizontal; }));
}
