#include "sim/revive/dawn.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;

const DawnProfile& named(const std::vector<DawnProfile>& all, const std::string& name) {
  return *std::find_if(all.begin(), all.end(), [&](const DawnProfile& d) { return d.name == name; });
}

Site at(double latitude, double longitude, double utc_offset_h) {
  Site site;
  site.latitude = Angle{latitude * pi / 180};
  site.longitude = Angle{longitude * pi / 180};
  site.utc_offset = Duration{3600 * utc_offset_h};
  return site;
}

double air(const Weather& w, std::size_t i) { return (w.intervals()[i].ambient.air - zero_celsius).si(); }
double light(const Weather& w, std::size_t i) { return w.intervals()[i].ambient.sky.global_horizontal.si(); }

}  // namespace

TEST_CASE("dawn: the clear sky's noon after Haurwitz 1945, an overcast one is a quarter of it") {
  // At the equator on the day of the equinox (20 March 2025, 09:01 UTC) the sun stands in the celestial equator to
  // 0.1 deg; true noon is at 12:07.4 (equation of time -7.4 min, almanac from memory), 5.65 deg before 12:30.
  const double cos_z = std::cos(5.65 * 3.14159265 / 180);
  const double haurwitz = 1098 * cos_z * std::exp(-0.059 / cos_z);
  const auto all = dawn_profiles(at(0, 0, 0), {2025, 3, 20}, 1, false);
  REQUIRE(all.size() == 3);
  const Weather &clear = named(all, "clear").weather, &overcast = named(all, "overcast").weather;
  REQUIRE(clear.intervals().size() == 24);
  CHECK(light(clear, 12) == doctest::Approx(haurwitz).epsilon(1e-3));
  for (std::size_t i = 0; i < 24; ++i) CHECK(light(overcast, i) == doctest::Approx(0.25 * light(clear, i)));
  CHECK(light(clear, 3) == 0);
  CHECK(light(named(all, "cold").weather, 12) == light(clear, 12));
}

TEST_CASE("dawn: a profile's numbers are those of its weather") {
  const auto all = dawn_profiles(at(56, -5, 0), {2024, 12, 21}, 2, true);
  REQUIRE(all.size() == 5);
  for (const DawnProfile& dawn : all) {
    CAPTURE(dawn.name);
    double sum = 0, outside = 0, least = 1e9, most = -1e9;
    for (std::size_t i = 0; i < 24; ++i) {
      const WeatherInterval& one = dawn.weather.intervals()[i];
      sum += 3600 * light(dawn.weather, i);
      if (light(dawn.weather, i) > 0) {
        outside += 3600 * (one.ambient.sky.extraterrestrial_normal * cos(one.ambient.sky.sun_zenith)).si();
      }
      least = std::min(least, air(dawn.weather, i));
      most = std::max(most, air(dawn.weather, i));
    }
    CHECK(dawn.light == doctest::Approx(sum));
    // The sun of an hour that is lit in part stands for that part only, and adds to `outside` as if for all of it.
    CHECK(dawn.clearness == doctest::Approx(sum / outside).epsilon(0.06));
    CHECK(least == doctest::Approx(dawn.coldest_degC));
    CHECK(most <= dawn.warmest_degC);
    CHECK(most > dawn.warmest_degC - 0.05 * (dawn.warmest_degC - dawn.coldest_degC));
  }
  CHECK(named(all, "overcast").clearness == doctest::Approx(0.25 * named(all, "clear").clearness));
  CHECK(named(all, "cold").coldest_degC < 0);
}

TEST_CASE("dawn: the air is coldest until sunrise and warmest two hours after solar noon, and every day is the same") {
  const Site site = at(56, -5, 1);
  const auto all = dawn_profiles(site, {2024, 10, 3}, 3, false);
  const Weather& w = named(all, "clear").weather;
  const Daylight sun = daylight_on(site, {2024, 10, 3});
  REQUIRE(w.intervals().size() == 72);
  CHECK(w.begin() == ticks_of_span(site, {2024, 10, 3}, {2024, 10, 3}).begin);
  std::size_t warmest = 0;
  for (std::size_t i = 0; i < 24; ++i) {
    if (w.intervals()[i].begin + hour / 2 <= sun.rise) {
      CHECK(air(w, i) == doctest::Approx(5));
    } else {
      CHECK(air(w, i) > 5);
    }
    if (air(w, i) > air(w, warmest)) warmest = i;
  }
  const Tick middle = w.intervals()[warmest].begin + hour / 2;
  CHECK(std::abs(middle - (sun.noon() + 2 * hour)) <= hour / 2);
  for (std::size_t i = 24; i < 72; ++i) {
    CHECK(air(w, i) == doctest::Approx(air(w, i - 24)).epsilon(0.02));
    CHECK(light(w, i) == doctest::Approx(light(w, i - 24)).epsilon(0.2));
  }
}

TEST_CASE("dawn: sunrise and sunset of a day") {
  const Daylight equinox = daylight_on(at(0, 0, 0), {2025, 3, 20});
  const Tick midnight = days_since_epoch({2025, 3, 20}) * ticks_per_day;
  // Day and night are equal; without refraction, to a minute.
  CHECK(std::abs(equinox.set - equinox.rise - ticks_per_day / 2) < hour / 60);
  CHECK(std::abs(equinox.noon() - (midnight + 12 * hour + 74 * hour / 600)) < hour / 60);
  CHECK(daylight_on(at(70, 0, 0), {2024, 12, 21}).none());
  const Daylight polar_day = daylight_on(at(70, 0, 0), {2024, 6, 21});
  CHECK(polar_day.set - polar_day.rise == ticks_per_day);
  // Standard time decides which day it is: 12 hours east of Greenwich the day begins at noon of the day before.
  const Daylight east = daylight_on(at(0, 180, 12), {2025, 3, 20});
  CHECK(std::abs(east.rise - (equinox.rise - 12 * hour)) < hour / 60);
}

TEST_CASE("dawn: the dullest day is the first of those with the least light") {
  const test::Replayed run("scenarios/outcomes/needs-human.yaml", {2024, 9, 28}, {2024, 10, 21});
  const CivilDate dullest = dullest_day(run.weather);
  const auto of_day = [&](std::int64_t day) {
    double sum = 0;
    for (const WeatherInterval& i : run.weather.intervals()) {
      if (i.begin / ticks_per_day == day)
        sum += i.ambient.sky.global_horizontal.si() * static_cast<double>(i.end - i.begin);
    }
    return sum;
  };
  const double least = of_day(days_since_epoch(dullest));
  CHECK(least > 0);
  for (std::int64_t day = days_since_epoch({2024, 9, 28}); day <= days_since_epoch({2024, 10, 21}); ++day) {
    CHECK(of_day(day) >= least);
  }
}
