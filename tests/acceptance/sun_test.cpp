// The sun's path against published positions and times.
#include "models/light/sun.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "models/light/transposition.hpp"
#include "sim/netlist/scenario.hpp"

using namespace overwinter;

namespace {

Tick at(CivilDate date, double hours) {
  return days_since_epoch(date) * ticks_per_day + static_cast<Tick>(std::llround(hours * 3600e3)) * 1'000'000;
}

Observer observer(double latitude, double longitude, double hectopascal = 1013.25, double celsius_air = 11) {
  return {latitude * units::degree, longitude * units::degree, Pressure{hectopascal * 100}, celsius(celsius_air)};
}

double degrees(Angle angle) { return angle / units::degree; }

/// Hours of the day's clock (UTC plus `offset` hours).
double clock_hours(Tick t, CivilDate date, double offset) {
  return static_cast<double>(t - days_since_epoch(date) * ticks_per_day) / 3600e9 + offset;
}

double hms(double h, double m, double s) { return h + m / 60 + s / 3600; }

}  // namespace

// Reda & Andreas, NREL/TP-560-34302, revised 2008, table A5.1. Its algorithm is good to 0.0003 deg, ours to 0.002 deg.
TEST_CASE("worked example of the Solar Position Algorithm") {
  const Observer here = observer(39.742476, -105.1786, 820, 11);
  const Tick noonish = at({2003, 10, 17}, hms(19, 30, 30));
  const SunPosition sun = sun_position(noonish, here);
  CHECK(std::abs(degrees(sun.zenith) - 50.11162) < 0.005);
  CHECK(std::abs(degrees(sun.azimuth) - 194.34024) < 0.005);
  CHECK(std::abs(degrees(sun.zenith_airless) - (90 - 39.872046)) < 0.005);
  CHECK(std::abs(degrees(sun.declination) - -9.31434) < 0.005);
  CHECK(std::abs(degrees(sun.hour_angle) - 11.105902) < 0.005);
  CHECK(std::abs(sun.distance - 0.9965422974) < 5e-5);

  // Slope 30 deg, turned 10 deg from south towards east.
  const Plane plane{30 * units::degree, 170 * units::degree};
  const double incidence = std::acos(cos_incidence(sun.zenith, sun.azimuth, plane)) * 180 / pi;
  CHECK(std::abs(incidence - 25.18700) < 0.005);
}

// Same table. The sunset printed there, 17:20:19, is that of the local day before: the algorithm works on a UT day.
// The sunset of local 17 October, 17:18:51, was recomputed with two independent programs. Tolerance 5 s.
TEST_CASE("sunrise and sunset of a local day, not of a UT day") {
  const Observer here = observer(39.742476, -105.1786, 820, 11);
  const double offset = -7, tolerance = 5.0 / 3600;
  const auto day = [&](CivilDate date) {
    const std::vector<SunUp> up = sun_up(at(date, 0 - offset), at(date, 24 - offset), here, almanac_horizon);
    REQUIRE(up.size() == 1);
    return up.front();
  };
  const SunUp today = day({2003, 10, 17});
  CHECK(std::abs(clock_hours(today.begin, {2003, 10, 17}, offset) - hms(6, 12, 43)) < tolerance);
  CHECK(std::abs(clock_hours(today.end, {2003, 10, 17}, offset) - hms(17, 18, 51)) < tolerance);
  const SunUp yesterday = day({2003, 10, 16});
  CHECK(std::abs(clock_hours(yesterday.end, {2003, 10, 16}, offset) - hms(17, 20, 19)) < tolerance);
}

// Same report, table A2.1. Tolerance 5 s.
TEST_CASE("sunrise and sunset on the Greenwich meridian") {
  struct Row {
    CivilDate date;
    double latitude, rise, set;
  };
  for (const Row& row : {Row{{1994, 1, 2}, 35, hms(7, 8, 12.8), hms(16, 59, 55.9)},
                         Row{{1996, 7, 5}, -35, hms(7, 8, 15.4), hms(17, 1, 4.5)},
                         Row{{2004, 12, 4}, -35, hms(4, 38, 57.1), hms(19, 2, 2.5)}}) {
    CAPTURE(row.date.year);
    const std::vector<SunUp> up = sun_up(at(row.date, 0), at(row.date, 24), observer(row.latitude, 0), almanac_horizon);
    REQUIRE(up.size() == 1);
    CHECK(std::abs(clock_hours(up.front().begin, row.date, 0) - row.rise) < 5.0 / 3600);
    CHECK(std::abs(clock_hours(up.front().end, row.date, 0) - row.set) < 5.0 / 3600);
  }
}

// Values of the Solar Position Algorithm (Delta T 67 s, 1013.25 hPa). Tolerance 0.005 deg, of azimuth on the sky.
TEST_CASE("sun positions around the world on 10 June 2016") {
  struct Row {
    double hour, latitude, longitude, air, zenith, azimuth;
  };
  for (const Row& row : {Row{8.5, 55.7558, 37.6173, 5.8, 34.465079, 155.536449},
                         Row{17.5, 41.8781, -87.6298, 9.8, 19.259226, 165.863616},
                         Row{4.5, -31.9505, 115.8605, 17.8, 55.067639, 356.079664},
                         Row{15.5, -23.5505, -46.6333, 22.5, 46.965500, 352.472097},
                         Row{11.5, 78.2232, 15.6267, -5.8, 55.276166, 189.234844}}) {
    CAPTURE(row.latitude);
    const SunPosition sun =
        sun_position(at({2016, 6, 10}, row.hour), observer(row.latitude, row.longitude, 1013.25, row.air));
    CHECK(std::abs(degrees(sun.zenith) - row.zenith) < 0.005);
    CHECK(std::abs(degrees(sun.azimuth) - row.azimuth) * sin(sun.zenith) < 0.005);
  }
}

// Day lengths, upper limb and 34' of refraction, recomputed with an independent program (any recent year: the calendar
// moves the solstice by under a day, 0.003 h here; at the equinox 0.001 h).
TEST_CASE("day lengths, and a polar night") {
  const auto day_length = [](CivilDate date, double latitude) {
    double hours = 0;
    for (const SunUp& up : sun_up(at(date, 0), at(date, 24), observer(latitude, 0), almanac_horizon)) {
      hours += static_cast<double>(up.end - up.begin) / 3600e9;
    }
    return hours;
  };
  for (const int year : {2020, 2021, 2022, 2023}) {
    CAPTURE(year);
    CHECK(std::abs(day_length({year, 6, 21}, 59.51) - 18.685) < 0.01);
    CHECK(std::abs(day_length({year, 12, 21}, 59.51) - 6.024) < 0.01);
    CHECK(std::abs(day_length({year, 3, 20}, 0) - 12.109) < 0.005);
    CHECK(day_length({year, 12, 21}, 71.32) == 0);
    CHECK(day_length({year, 6, 21}, 71.32) == 24);
  }
}
