#include "sim/weather/weather.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <string>

#include "models/light/split.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double none = std::numeric_limits<double>::quiet_NaN();

Site site_at(double latitude, double longitude, double offset_hours) {
  Site site;
  site.latitude = latitude * units::degree;
  site.longitude = longitude * units::degree;
  site.elevation = Length{400};
  site.utc_offset = offset_hours * units::hour;
  return site;
}

/// A year in which every row's global radiation is a hundredth of its number, to tell rows apart.
StationYear numbered_year(const Site& site) {
  StationYear year;
  year.site = site;
  year.source_years = {2001};
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    year.hours.push_back({static_cast<double>(row % 24), static_cast<double>(row) / 100, none, none});
  }
  return year;
}

std::size_t row_of(const WeatherInterval& interval) {
  return static_cast<std::size_t>(std::lround(interval.ambient.sky.global_horizontal.si() * 100));
}

Tick midnight(CivilDate date) { return days_since_epoch(date) * ticks_per_day; }

}  // namespace

namespace {

/// Light by the number of its row, from 2024-06-20 on.
MeasuredRecord record_of(Tick step, std::size_t rows, const std::function<double(std::size_t)>& light) {
  MeasuredRecord record;
  record.path = "folder/mast.csv";
  record.begin = midnight({2024, 6, 20});
  record.step = step;
  for (std::size_t i = 0; i < rows; ++i) record.rows.push_back({static_cast<double>(i % 7), light(i), none, none});
  return record;
}

}  // namespace

TEST_CASE("a measured record lies on its own days; all of its light within the span arrives, whatever the step") {
  const Site site = site_at(56, -5, 0);
  for (const Tick step : {hour / 60, hour / 4, hour, hour + hour / 2, 5 * hour, 24 * hour}) {
    CAPTURE(step / (hour / 60));
    const auto rows = static_cast<std::size_t>(5 * 24 * hour / step);
    const auto light = [](std::size_t i) { return static_cast<double>(i % 11) * 20; };
    const Weather weather(record_of(step, rows, light), site, {2024, 6, 21}, {2024, 6, 22});
    CHECK(weather.begin() == midnight({2024, 6, 21}));
    CHECK(weather.end() == midnight({2024, 6, 23}));
    double arrived = 0;
    Tick last = weather.begin();
    for (const WeatherInterval& interval : weather.intervals()) {
      REQUIRE(interval.begin == last);
      last = interval.end;
      arrived += interval.ambient.sky.global_horizontal.si() * static_cast<double>(interval.end - interval.begin);
    }
    CHECK(last == weather.end());
    if (24 * hour % step != 0) continue;  // there midnight cuts a row whose light is not spread evenly
    double recorded = 0;
    for (std::size_t i = 0; i < rows; ++i) {
      const Tick begin = midnight({2024, 6, 20}) + static_cast<Tick>(i) * step;
      if (begin >= weather.begin() && begin < weather.end()) recorded += light(i) * static_cast<double>(step);
    }
    CHECK(arrived == doctest::Approx(recorded).epsilon(1e-12));
  }
}

TEST_CASE("a measured record: air temperature of the row, the split of its light, what it is called") {
  const Site site = site_at(56, -5, 0);
  const Weather weather(record_of(hour, 48, [](std::size_t) { return 100.0; }), site, {2024, 6, 20}, {2024, 6, 21});
  REQUIRE(weather.intervals().size() == 48);
  const WeatherInterval& noon = weather.intervals()[12];
  CHECK(noon.ambient.air.si() == doctest::Approx(273.15 + 5));
  const IntervalSun sun = interval_sun(noon.begin, noon.end, observer_at(site));
  CHECK(noon.ambient.sky.diffuse_horizontal.si() == split_global(Irradiance{100}, sun).diffuse_horizontal.si());
  CHECK(noon.ambient.sky.beam_normal.si() == split_global(Irradiance{100}, sun).beam_normal.si());
  CHECK(weather.source().place == "mast.csv");
  CHECK(weather.source().path == "folder/mast.csv");
  CHECK(weather.source().years == std::vector<int>{2024});
  CHECK(!weather.source().typical_year);
  CHECK(weather.source().step == hour);
  CHECK(!weather.source().annual_kwh);
}

TEST_CASE("a measured record: medians of the days that it has whole, the light of a year where it is as long") {
  const Site site = site_at(56, -5, 1);  // its days begin an hour before the record: the first is not whole
  const Weather weather(record_of(hour, 400 * 24, [](std::size_t i) { return static_cast<double>(i / 24); }), site,
                        {2024, 6, 22}, {2024, 6, 22});
  // Of the 40 whole days in June, ten of 2024 have 1 to 10 W/m2 and thirty of 2025 346 to 375, all but for an hour.
  CHECK(weather.source().median_day[5] == doctest::Approx((355.5 - 1.0 / 24) * 86400));
  CHECK(weather.source().years == std::vector<int>{2024, 2025});
  CHECK(!weather.source().typical_year);
  REQUIRE(weather.source().annual_kwh);
  CHECK(*weather.source().annual_kwh == doctest::Approx(199.5 * 24 * 365 / 1000));
  const Weather brief(record_of(hour, 48, [](std::size_t) { return 1.0; }), site_at(56, -5, 0), {2024, 6, 20},
                      {2024, 6, 20});
  CHECK(brief.source().median_day[5] == doctest::Approx(86400));
  CHECK(std::isnan(brief.source().median_day[6]));
}

TEST_CASE("a measured record with its light at night is warned of") {
  const auto day = [](std::size_t i) { return i % 24 >= 8 && i % 24 < 16 ? 300.0 : 0.0; };
  const auto night = [&](std::size_t i) { return day(i + 12); };
  const Weather sound(record_of(hour, 48, day), site_at(0, 0, 0), {2024, 6, 20}, {2024, 6, 21});
  CHECK(sound.warnings().empty());
  const Weather shifted(record_of(hour, 48, night), site_at(0, 0, 0), {2024, 6, 20}, {2024, 6, 21});
  REQUIRE(shifted.warnings().size() == 1);
  CHECK(shifted.warnings()[0] ==
        "100.0 % of the light falls while the sun is down: check the time's stamp and utc_offset, and the site");
}

TEST_CASE("intervals cover the span of site days without gap or overlap") {
  const Site site = site_at(56, -5, -1);
  const Weather weather(numbered_year(site), site, {2024, 10, 15}, {2025, 3, 31});
  CHECK(weather.begin() == midnight({2024, 10, 15}) + hour);
  CHECK(weather.end() == midnight({2025, 4, 1}) + hour);
  CHECK(weather.intervals().size() == 168 * 24);
  Tick last = weather.begin();
  for (const WeatherInterval& interval : weather.intervals()) {
    REQUIRE(interval.begin == last);
    REQUIRE(interval.end == interval.begin + hour);
    last = interval.end;
  }
}

TEST_CASE("the calendar decides the row, and the year wraps") {
  const Site site = site_at(56, -5, 0);
  const Weather weather(numbered_year(site), site, {2024, 12, 31}, {2025, 1, 1});
  CHECK(row_of(weather.intervals().front()) == 364 * 24);
  CHECK(row_of(weather.intervals()[23]) == 8759);
  CHECK(row_of(weather.intervals()[24]) == 0);
  CHECK(row_of(weather.intervals().back()) == 23);
}

TEST_CASE("29 February repeats the 28th") {
  const Site site = site_at(56, -5, 0);
  const Weather weather(numbered_year(site), site, {2024, 2, 28}, {2024, 3, 1});
  for (std::size_t h = 0; h < 24; ++h) {
    CHECK(row_of(weather.intervals()[h]) == 58 * 24 + h);
    CHECK(row_of(weather.intervals()[24 + h]) == 58 * 24 + h);
    CHECK(row_of(weather.intervals()[48 + h]) == 59 * 24 + h);
  }
  // The sun is the day's own.
  CHECK(weather.intervals()[12].ambient.sky.sun_zenith > weather.intervals()[36].ambient.sky.sun_zenith);
}

TEST_CASE("the file's standard time picks the row, the site's the day") {
  const Weather weather(numbered_year(site_at(56, 10, 1)), site_at(56, -5, 0), {2023, 6, 10}, {2023, 6, 10});
  CHECK(weather.begin() == midnight({2023, 6, 10}));
  // Midnight UTC is one o'clock at the station.
  CHECK(row_of(weather.intervals().front()) == 160 * 24 + 1);
}

TEST_CASE("an offset of half an hour clips the first and the last interval") {
  const Weather weather(numbered_year(site_at(20, 80, 5)), site_at(20, 80, 5.5), {2023, 1, 10}, {2023, 1, 10});
  CHECK(weather.intervals().size() == 25);
  CHECK(weather.begin() == midnight({2023, 1, 10}) - 11 * hour / 2);
  CHECK(weather.intervals().front().end - weather.intervals().front().begin == hour / 2);
  CHECK(weather.intervals()[1].end - weather.intervals()[1].begin == hour);
  CHECK(weather.intervals().back().end - weather.intervals().back().begin == hour / 2);
  CHECK(weather.end() - weather.begin() == ticks_per_day);
  // 00:00 at the site is 23:30 of the 9th at the station.
  CHECK(row_of(weather.intervals().front()) == 8 * 24 + 23);
}

TEST_CASE("air temperature is the mean of the values that bracket the hour") {
  const Site site = site_at(56, -5, 0);
  StationYear year = numbered_year(site);
  year.hours.back().air_celsius = -8;
  year.hours[0].air_celsius = -4;
  year.hours[1].air_celsius = 10;
  const Weather weather(year, site, {2023, 1, 1}, {2023, 1, 1});
  CHECK(weather.intervals()[0].ambient.air.si() == doctest::Approx(273.15 - 6));
  CHECK(weather.intervals()[1].ambient.air.si() == doctest::Approx(273.15 + 3));
}

TEST_CASE("missing beam and diffuse are split from the global radiation") {
  const Site site = site_at(56, -5, 0);
  StationYear year = numbered_year(site);
  for (StationRecord& record : year.hours) record.global_horizontal = 90;
  year.hours[11].diffuse_horizontal = 60;  // 1 January 11:00-12:00
  year.hours[12].beam_normal = 100;
  year.hours[13].beam_normal = 50;
  year.hours[13].diffuse_horizontal = 70;
  const Weather weather(year, site, {2023, 1, 1}, {2023, 1, 1});
  const Observer observer = observer_at(site);

  const auto sky = [&](std::size_t h) { return weather.intervals()[h].ambient.sky; };
  const auto closed = [](const Sky& s) { return (s.diffuse_horizontal + s.beam_normal * cos(s.sun_zenith)).si(); };
  const Split erbs = split_global(
      Irradiance{90}, interval_sun(midnight({2023, 1, 1}) + 10 * hour, midnight({2023, 1, 1}) + 11 * hour, observer));
  CHECK(erbs.beam_normal > Irradiance{10});
  CHECK(sky(10).beam_normal == erbs.beam_normal);
  CHECK(sky(10).diffuse_horizontal == erbs.diffuse_horizontal);
  CHECK(closed(sky(10)) == doctest::Approx(90));

  CHECK(sky(11).diffuse_horizontal.si() == doctest::Approx(60));
  CHECK(closed(sky(11)) == doctest::Approx(90));
  CHECK(sky(12).beam_normal.si() == 100);
  CHECK(closed(sky(12)) == doctest::Approx(90));
  CHECK(sky(13).beam_normal.si() == 50);
  CHECK(sky(13).diffuse_horizontal.si() == 70);
  CHECK(sky(13).global_horizontal.si() == 90);
}

TEST_CASE("light in an hour without sun is all diffuse") {
  const Site site = site_at(56, -5, 0);
  StationYear year = numbered_year(site);
  year.hours[2].beam_normal = 300;
  year.hours[2].diffuse_horizontal = 1;
  year.hours[2].global_horizontal = 40;
  const Weather weather(year, site, {2023, 1, 1}, {2023, 1, 1});
  const Sky& sky = weather.intervals()[2].ambient.sky;
  CHECK(sky.sun_zenith > 90 * units::degree);
  CHECK(sky.beam_normal.si() == 0);
  CHECK(sky.diffuse_horizontal.si() == 40);
}

TEST_CASE("at sunrise the sun stands in the middle of the lit part of the hour") {
  const Site site = site_at(56, -5, 0);
  const Observer observer = observer_at(site);
  const Weather weather(numbered_year(site), site, {2023, 3, 1}, {2023, 3, 1});
  const SunUp day = sun_up(weather.begin(), weather.end(), observer, true_horizon).front();
  const auto sunrise_hour =
      std::find_if(weather.intervals().begin(), weather.intervals().end(),
                   [&](const WeatherInterval& i) { return i.begin <= day.begin && day.begin < i.end; });
  REQUIRE(sunrise_hour != weather.intervals().end());
  const SunPosition expected = sun_position(day.begin + (sunrise_hour->end - day.begin) / 2, observer);
  CHECK(sunrise_hour->ambient.sky.sun_zenith.si() == doctest::Approx(expected.zenith.si()).epsilon(1e-6));
  CHECK(sunrise_hour->ambient.sky.sun_azimuth.si() == doctest::Approx(expected.azimuth.si()).epsilon(1e-6));

  const WeatherInterval& noon = weather.intervals()[12];
  CHECK(noon.ambient.sky.sun_zenith == sun_position(noon.begin + hour / 2, observer).zenith);
}

// Perihelion in early January, aphelion in early July: 3.4 % more and less light than the solar constant.
TEST_CASE("the extraterrestrial irradiance is the date's own") {
  const Site site = site_at(56, -5, 0);
  const Weather winter(numbered_year(site), site, {2023, 1, 4}, {2023, 1, 4});
  const Weather summer(numbered_year(site), site, {2023, 7, 6}, {2023, 7, 6});
  CHECK(winter.intervals()[12].ambient.sky.extraterrestrial_normal.si() == doctest::Approx(1361 * 1.034).epsilon(2e-3));
  CHECK(summer.intervals()[12].ambient.sky.extraterrestrial_normal.si() == doctest::Approx(1361 / 1.034).epsilon(2e-3));
}

TEST_CASE("the site's albedo goes with the sky") {
  Site site = site_at(56, -5, 0);
  site.albedo = 0.7;
  const Weather weather(numbered_year(site), site, {2023, 1, 4}, {2023, 1, 4});
  CHECK(weather.intervals().front().ambient.sky.albedo == 0.7);
}

TEST_CASE("warnings: a station elsewhere, a typical year, the file's own") {
  const Site site = site_at(56, -5, 0);
  const auto warnings = [&](StationYear year) {
    return Weather(std::move(year), site, {2023, 1, 4}, {2023, 1, 4}).warnings();
  };
  CHECK(warnings(numbered_year(site)).empty());
  CHECK(warnings(numbered_year(site_at(56.4, -5.4, 0))).empty());

  StationYear own = numbered_year(site);
  own.warnings = {"the rows of 29 February are left out"};
  CHECK(warnings(own) == own.warnings);

  CHECK(
      warnings(numbered_year(site_at(56, -6.5, 0))) ==
      std::vector<std::string>{"the weather station stands 0.0 deg of latitude and 1.5 deg of longitude from the site: "
                               "its clouds and its air may not be the site's"});
  StationYear valley = numbered_year(site);
  valley.site.elevation = Length{0};
  CHECK(warnings(valley) ==
        std::vector<std::string>{"the weather station stands 400 m below the site: the site's air is "
                                 "about 2.6 K colder (6.5 K per 1000 m)"});
  StationYear summit = numbered_year(site);
  summit.site.elevation = Length{1400};
  CHECK(warnings(summit) ==
        std::vector<std::string>{"the weather station stands 1000 m above the site: the site's air is "
                                 "about 6.5 K warmer (6.5 K per 1000 m)"});
  StationYear typical = numbered_year(site);
  typical.source_years = {1995, 1999, 2003};
  CHECK(warnings(typical) ==
        std::vector<std::string>{"typical year: its months come from 3 different years (1995 to "
                                 "2003), chosen because they were ordinary; bad winters are not in "
                                 "it"});
}

TEST_CASE("longitudes on both sides of the date line are near each other") {
  const Weather weather(numbered_year(site_at(-17, 179.9, 12)), site_at(-17, -179.9, 12), {2023, 1, 4}, {2023, 1, 4});
  CHECK(weather.warnings().empty());
}

TEST_CASE("the year's radiation") {
  StationYear year = numbered_year(site_at(56, -5, 0));
  for (StationRecord& record : year.hours) record.global_horizontal = 100;
  CHECK(annual_horizontal_kwh(year) == doctest::Approx(876));
}

TEST_CASE("the air is made colder between two times, where intervals are cut; the light stays") {
  const Site site = site_at(50, 0, 0);
  const Weather plain(numbered_year(site), site, {2025, 3, 1}, {2025, 3, 2});
  Weather cold = plain;
  const Tick begin = plain.begin() + 5 * hour / 2, end = plain.begin() + 4 * hour;
  cold.cool(begin, end, Temperature{15.0});
  CHECK(cold.intervals().size() == plain.intervals().size() + 1);
  CHECK(cold.begin() == plain.begin());
  CHECK(cold.end() == plain.end());
  Tick reached = cold.begin();
  for (const WeatherInterval& i : cold.intervals()) {
    CHECK(i.begin == reached);
    reached = i.end;
    const Ambient& before = plain.intervals()[static_cast<std::size_t>((i.begin - plain.begin()) / hour)].ambient;
    CHECK(i.ambient.sky.global_horizontal.si() == before.sky.global_horizontal.si());
    const double colder = i.begin >= begin && i.end <= end ? 15 : 0;
    CHECK(i.ambient.air.si() == before.air.si() - colder);
  }
  CHECK(cold.intervals()[2].end == begin);
  cold.cool(plain.begin() - hour, never, Temperature{1.0});  // the whole span
  CHECK(cold.intervals().size() == plain.intervals().size() + 1);
  CHECK(cold.intervals().back().ambient.air.si() == plain.intervals().back().ambient.air.si() - 1);
}
