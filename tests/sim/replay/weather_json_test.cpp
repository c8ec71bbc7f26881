#include "sim/replay/weather_json.hpp"

#include <doctest/doctest.h>

#include "tests/support/toy.hpp"

using namespace overwinter;

TEST_CASE("what is told of the weather: light day by day, the dullest and the brightest day, the air") {
  // On the n-th day of the year n W/m2 at noon only.
  const auto light = [](std::size_t hour) { return hour % 24 == 12 ? static_cast<double>(hour / 24 + 1) : 0.0; };
  Site site;
  site.utc_offset = -2 * units::hour;
  StationYear year = test::station_year(light);
  year.path = "station.epw";
  const nlohmann::ordered_json w = weather_json(Weather(year, site, {2025, 3, 1}, {2025, 3, 3}));
  CHECK(w.at("source") == "Test station");
  CHECK(w.at("file") == "station.epw");
  CHECK(w.at("rows") == 8760);
  CHECK(w.at("step_s") == 3600);
  CHECK(w.at("kWh_m2_a_day").get<double>() == doctest::Approx(0.061));
  CHECK(w.at("dullest_day").at("date") == "2025-03-01");
  CHECK(w.at("dullest_day").at("kWh_m2").get<double>() == doctest::Approx(0.060));
  CHECK(w.at("brightest_day").at("date") == "2025-03-03");
  CHECK(w.at("coldest_degC").get<double>() == doctest::Approx(10));
  CHECK(w.at("warmest_degC").get<double>() == doctest::Approx(10));
}
