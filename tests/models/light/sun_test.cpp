#include "models/light/sun.hpp"

#include <doctest/doctest.h>
#include <libnova/libnova.h>

#include <algorithm>
#include <cmath>
#include <vector>

using namespace overwinter;

namespace {

constexpr double degree = pi / 180;
constexpr Tick hour = 3600 * ticks_per_second;
constexpr Tick year = 8766 * hour;

struct Reference {
  double zenith;  // topocentric, airless
  double azimuth;
  double distance;
};

/// The sun by libnova's complete VSOP87 series and its nutation, precession and sidereal time. Aberration and the
/// step from the series' ecliptic of J2000 to that of the date, which its own sun routines leave out, are added here.
Reference by_libnova(Tick utc, double latitude_deg, double longitude_deg) {
  const double jd = 2440587.5 + static_cast<double>(utc) / static_cast<double>(ticks_per_day);
  const double delta_t = 64 + 0.4 * (jd - 2451545) / 365.25;  // s; ten seconds move the sun by 0.0001 deg
  const double jde = jd + delta_t / 86400;
  ln_helio_posn sun;
  ln_get_solar_geom_coords(jde, &sun);
  const auto to_equator = [](double longitude, double latitude, double obliquity) {
    return ln_equ_posn{std::atan2(std::sin(longitude) * std::cos(obliquity) - std::tan(latitude) * std::sin(obliquity),
                                  std::cos(longitude)) /
                           degree,
                       std::asin(std::sin(latitude) * std::cos(obliquity) +
                                 std::cos(latitude) * std::sin(obliquity) * std::sin(longitude)) /
                           degree};
  };
  ln_equ_posn then = to_equator(sun.L * degree, sun.B * degree, 23.4392911 * degree), now;
  ln_get_equ_prec(&then, jde, &now);
  ln_nutation nutation;
  ln_get_nutation(jd, &nutation);
  const double mean_obliquity = nutation.ecliptic * degree;
  const double ra = now.ra * degree, dec = now.dec * degree;
  const double longitude =
      std::atan2(std::sin(ra) * std::cos(mean_obliquity) + std::tan(dec) * std::sin(mean_obliquity), std::cos(ra)) +
      (nutation.longitude - 20.4898 / 3600 / sun.R) * degree;
  const double latitude =
      std::asin(std::sin(dec) * std::cos(mean_obliquity) - std::cos(dec) * std::sin(mean_obliquity) * std::sin(ra));
  ln_equ_posn apparent = to_equator(longitude, latitude, mean_obliquity + nutation.obliquity * degree);
  ln_lnlat_posn place{longitude_deg, latitude_deg};
  ln_hrz_posn horizon;
  ln_get_hrz_from_equ_sidereal_time(&apparent, &place, ln_get_apparent_sidereal_time(jd), &horizon);
  const double zenith = (90 - horizon.alt) * degree;
  const double parallax = 8.794 / 3600 * degree / sun.R * std::sin(zenith);
  return {zenith + parallax, std::remainder(horizon.az + 180, 360) * degree, sun.R};
}

double separation(double zenith1, double azimuth1, double zenith2, double azimuth2) {
  const double dz = std::sin((zenith1 - zenith2) / 2), da = std::sin((azimuth1 - azimuth2) / 2);
  return 2 * std::asin(std::sqrt(dz * dz + std::sin(zenith1) * std::sin(zenith2) * da * da)) / degree;
}

Observer at_place(double latitude_deg, double longitude_deg) {
  Observer observer;
  observer.latitude = latitude_deg * units::degree;
  observer.longitude = longitude_deg * units::degree;
  return observer;
}

}  // namespace

// Oracle: VSOP87 (Bretagnon & Francou 1988) complete, through libnova. The header promises 0.002 deg.
TEST_CASE("sun position agrees with the complete theory over 1990...2060 and the globe") {
  double worst = 0, worst_distance = 0;
  int k = 0;
  for (Tick t = 20 * year; t < 91 * year; t += 41 * hour + 13 * 60 * ticks_per_second, ++k) {
    const double latitude = -85 + 10 * (k % 18), longitude = -180 + 37 * (k % 10);
    const SunPosition sun = sun_position(t, at_place(latitude, longitude));
    const Reference reference = by_libnova(t, latitude, longitude);
    worst = std::max(worst, separation(sun.zenith_airless.si(), sun.azimuth.si(), reference.zenith, reference.azimuth));
    worst_distance = std::max(worst_distance, std::abs(sun.distance - reference.distance));
  }
  MESSAGE("largest error ", worst, " deg, distance ", worst_distance, " au, in ", k, " positions");
  CHECK(k > 10'000);
  CHECK(worst < 0.002);
  CHECK(worst_distance < 5e-5);
}

// ISO 2533:1975 table: 1000 m 898.76 hPa, 3000 m 701.21 hPa.
TEST_CASE("pressure of the standard atmosphere") {
  CHECK(standard_pressure(Length{0}).si() == doctest::Approx(101325));
  CHECK(standard_pressure(Length{1000}).si() == doctest::Approx(89876).epsilon(2e-4));
  CHECK(standard_pressure(Length{3000}).si() == doctest::Approx(70121).epsilon(2e-4));
}

// Meeus ch. 16: 28.7' at the apparent horizon; the air lifts the sun and never by more than 0.7 deg.
TEST_CASE("refraction lifts the sun near the horizon and is not applied far below it") {
  const Observer here = at_place(0, 0);
  double most = 0;
  for (Tick t = 0; t < 24 * hour; t += hour / 60) {
    const SunPosition sun = sun_position(t, here);
    const double lift = (sun.zenith_airless - sun.zenith) / units::degree;
    most = std::max(most, lift);
    if (sun.zenith_airless / units::degree > 91) CHECK(lift == 0);
    if (sun.zenith_airless / units::degree < 80) CHECK(lift < 0.1);
  }
  CHECK(most > 0.47);
  CHECK(most < 0.7);
}

TEST_CASE("stretches of sun start and end where the sun crosses the horizon") {
  const Observer here = at_place(56, -5);
  const Tick begin = 19'723 * ticks_per_day;  // 2024-01-01
  const std::vector<SunUp> up = sun_up(begin, begin + 10 * ticks_per_day, here, true_horizon);
  REQUIRE(up.size() == 10);
  const auto height = [&](Tick t) { return pi / 2 - sun_position(t, here).zenith_airless.si(); };
  for (const SunUp& day : up) {
    CHECK(std::abs(height(day.begin)) < 1e-6);
    CHECK(std::abs(height(day.end)) < 1e-6);
    CHECK(height(day.begin + hour / 60) > 0);
    CHECK(height(day.end + hour / 60) < 0);
  }
}

TEST_CASE("stretches are clipped at the ends of the interval, and may be none") {
  const Observer here = at_place(0, 0);
  const Tick noon = 19'723 * ticks_per_day + 12 * hour;
  const std::vector<SunUp> up = sun_up(noon, noon + hour, here, true_horizon);
  REQUIRE(up.size() == 1);
  CHECK(up.front().begin == noon);
  CHECK(up.front().end == noon + hour);
  CHECK(sun_up(noon + 12 * hour, noon + 13 * hour, here, true_horizon).empty());
  CHECK(sun_up(noon, noon, here, true_horizon).empty());
}

// At the edge of the polar night the sun shows for minutes about noon: no sample on the hour sees it.
TEST_CASE("a sun that peeks over the horizon between two samples is found") {
  int short_days = 0;
  for (double latitude = 66.0; latitude < 67.6; latitude += 0.005) {
    const Observer here = at_place(latitude, 7.5);                   // noon near the half hour
    const Tick begin = 19'723 * ticks_per_day - 10 * ticks_per_day;  // 2023-12-22
    Tick lit = 0;
    for (const SunUp& up : sun_up(begin, begin + ticks_per_day, here, true_horizon)) lit += up.end - up.begin;
    Tick sampled = 0;
    for (Tick t = begin; t < begin + ticks_per_day; t += hour / 60) {
      if (sun_position(t, here).zenith_airless.si() < pi / 2) sampled += hour / 60;
    }
    CHECK(std::abs(lit - sampled) <= 2 * hour / 60);
    if (lit > 0 && lit < hour) ++short_days;
  }
  CHECK(short_days > 3);
}

TEST_CASE("a sun that dips under the horizon between two samples gives two stretches") {
  bool found = false;
  for (double latitude = 65.5; latitude < 68 && !found; latitude += 0.005) {
    const Observer here = at_place(latitude, -7.5 + 180);
    const Tick begin = 19'530 * ticks_per_day + 11 * hour;  // 2023-06-22, about local midnight
    const std::vector<SunUp> up = sun_up(begin, begin + 2 * hour, here, true_horizon);
    found = up.size() == 2 && up[1].begin - up[0].end < hour;
  }
  CHECK(found);
}

TEST_CASE("the sun that stands for an interval") {
  const Observer here = at_place(56, -5);
  const Tick begin = 19'723 * ticks_per_day;
  double lit_hours = 0;
  for (Tick t = begin; t < begin + ticks_per_day; t += hour) {
    const IntervalSun sun = interval_sun(t, t + hour, here);
    lit_hours += sun.lit_fraction;
    if (sun.lit_fraction == 0) {
      CHECK(sun.sun.zenith_airless.si() >= pi / 2);
    } else {
      CHECK(sun.sun.zenith.si() < pi / 2);
    }
    if (sun.lit_fraction == 1) {
      CHECK(sun.sun.zenith.si() == sun_position(t + hour / 2, here).zenith.si());
    }
    if (sun.lit_fraction > 0 && sun.lit_fraction < 1) {
      const SunUp up = sun_up(t, t + hour, here, true_horizon).front();
      CHECK(sun.sun.zenith.si() == sun_position(up.begin + (up.end - up.begin) / 2, here).zenith.si());
    }
  }
  const SunUp day = sun_up(begin, begin + ticks_per_day, here, true_horizon).front();
  CHECK(lit_hours == doctest::Approx(static_cast<double>(day.end - day.begin) / static_cast<double>(hour)));
}

// The bound on how far the sun moves shrinks with the interval: a minute near the horizon must not be taken for whole.
TEST_CASE("the lit minutes of a day add up to its stretches of sun, also where the sun grazes the horizon") {
  constexpr Tick minute = hour / 60;
  for (const Tick begin : {19'802 * ticks_per_day, 20'078 * ticks_per_day}) {  // 2024-03-20 and 2024-12-21
    for (const double latitude : {0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 56.0, 66.5, 67.4, -80.0}) {
      CAPTURE(latitude);
      const Observer here = at_place(latitude, -5);
      double lit = 0, up = 0;
      for (Tick t = begin; t < begin + ticks_per_day; t += minute)
        lit += interval_sun(t, t + minute, here).lit_fraction;
      for (const SunUp& stretch : sun_up(begin, begin + ticks_per_day, here, true_horizon))
        up += static_cast<double>(stretch.end - stretch.begin) / static_cast<double>(minute);
      CHECK(std::abs(lit - up) < 1e-3);
    }
  }
}
