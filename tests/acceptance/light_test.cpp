// Light on planes and its split, against published examples and whole-year files.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "models/light/transposition.hpp"
#include "sim/weather/epw.hpp"
#include "sim/weather/weather.hpp"
#include "tests/support/lengths.hpp"

using namespace overwinter;

namespace {

/// The low-order sun of Duffie & Beckman (5th ed. 2020, ch. 1), which their examples use.
struct TextbookSun {
  double declination, zenith, azimuth;  // deg, azimuth clockwise from north
  double outside_normal;                // W/m2

  TextbookSun(double latitude, int day_of_year, double hour_angle) {
    const double d = pi / 180;
    declination = 23.45 * std::sin(360 * (284.0 + day_of_year) / 365 * d);
    const double cos_zenith = std::cos(latitude * d) * std::cos(declination * d) * std::cos(hour_angle * d) +
                              std::sin(latitude * d) * std::sin(declination * d);
    zenith = std::acos(cos_zenith) / d;
    azimuth = 180 + std::atan2(std::sin(hour_angle * d), std::cos(hour_angle * d) * std::sin(latitude * d) -
                                                             std::tan(declination * d) * std::cos(latitude * d)) /
                        d;
    outside_normal = 1367 * (1 + 0.033 * std::cos(360.0 * day_of_year / 365 * d));
  }

  double cos_incidence_on(double tilt, double plane_azimuth) const {
    return cos_incidence(zenith * units::degree, azimuth * units::degree,
                         {tilt * units::degree, plane_azimuth * units::degree});
  }
};

std::filesystem::path reference_file(const std::string& name) {
  return std::filesystem::path(OVERWINTER_SOURCE) / ".." / "shared" / "reference" / "weather" / name;
}

}  // namespace

// Erbs, Klein & Duffie 1982, values of the published hourly correlation. Tolerance 2e-5.
TEST_CASE("diffuse fraction of Erbs, Klein and Duffie") {
  const double table[][2] = {{0.1, 0.9910},  {0.2, 0.9820},  {0.22, 0.9802}, {0.3, 0.94860}, {0.4, 0.83999},
                             {0.5, 0.65915}, {0.6, 0.43948}, {0.7, 0.24398}, {0.8, 0.16527}, {0.9, 0.165}};
  for (const auto& [clearness, fraction] : table) {
    CAPTURE(clearness);
    CHECK(std::abs(erbs_diffuse_fraction(clearness) - fraction) < 2e-5);
  }
}

// Haurwitz 1945, recomputed from the printed formula. Tolerance 0.1 W/m2.
TEST_CASE("clear sky of Haurwitz") {
  const double table[][2] = {{0, 1035.1}, {30, 888.3}, {60, 487.9}, {70, 316.0}, {80, 135.7}, {85, 48.6}};
  for (const auto& [zenith, global] : table) {
    CAPTURE(zenith);
    CHECK(std::abs(clear_sky(zenith * units::degree).si() - global) < 0.1);
  }
}

// Duffie & Beckman, examples 1.6.1 and 1.8.1: latitude 43, 13 February, 10:30 solar time, slope 45 deg, 15 deg west of
// south. Tolerance 0.2 deg and 0.01.
TEST_CASE("incidence angle and beam ratio of Duffie and Beckman") {
  const TextbookSun sun(43, 44, -22.5);
  const double cos_theta = sun.cos_incidence_on(45, 195);
  CHECK(std::abs(std::acos(cos_theta) * 180 / pi - 35.16) < 0.2);
  CHECK(std::abs(cos_theta / std::cos(sun.zenith * pi / 180) - 1.666) < 0.01);

  // 1.8.2 and 1.8.3: latitude 40, 16 February, 9 to 10 h, facing south.
  const TextbookSun morning(40, 47, -37.5);
  CHECK(std::abs(morning.cos_incidence_on(30, 180) / std::cos(morning.zenith * pi / 180) - 1.61) < 0.01);
  CHECK(std::abs(morning.cos_incidence_on(50, 180) / std::cos(morning.zenith * pi / 180) - 1.79) < 0.01);
}

// Duffie & Beckman, examples 2.15.1 and 2.16.1: slope 60 deg facing south, latitude 40, 20 February 9 to 10 h,
// 1.04 MJ/m2, ground reflectance 0.6. Statement from the book, answers recomputed. Tolerance 0.01 MJ/m2.
TEST_CASE("hourly light on a tilted plane of Duffie and Beckman") {
  const TextbookSun textbook(40, 51, -37.5);
  const double to_mj = 3600e-6;
  const double global = 1.04 / to_mj;
  const double cos_zenith = std::cos(textbook.zenith * pi / 180);
  CHECK(std::abs(textbook.declination - -11.58) < 0.01);
  // The book's hour is the extraterrestrial light between the two hour angles; the middle is 1e-3 off.
  const double clearness = global / (textbook.outside_normal * cos_zenith);
  CHECK(std::abs(clearness - 0.4454) < 2e-3);
  const double diffuse = global * erbs_diffuse_fraction(clearness);
  CHECK(std::abs(diffuse * to_mj - 0.796) < 0.01);

  Sky sky;
  sky.global_horizontal = Irradiance{global};
  sky.diffuse_horizontal = Irradiance{diffuse};
  sky.beam_normal = Irradiance{(global - diffuse) / cos_zenith};
  sky.extraterrestrial_normal = Irradiance{textbook.outside_normal};
  sky.sun_zenith = textbook.zenith * units::degree;
  sky.sun_azimuth = textbook.azimuth * units::degree;
  sky.albedo = 0.6;
  const Plane plane{60 * units::degree, 180 * units::degree};

  const PlaneIrradiance isotropic = plane_irradiance(sky, plane, SkyModel::isotropic);
  CHECK(std::abs(isotropic.beam.si() * to_mj - 0.418) < 0.01);
  CHECK(std::abs(isotropic.sky.si() * to_mj - 0.597) < 0.01);
  CHECK(std::abs(isotropic.ground.si() * to_mj - 0.156) < 0.001);
  CHECK(std::abs(isotropic.total().si() * to_mj - 1.171) < 0.01);

  const PlaneIrradiance hay_davies = plane_irradiance(sky, plane, SkyModel::hay_davies);
  CHECK(hay_davies.beam.si() == isotropic.beam.si());
  CHECK(hay_davies.ground.si() == isotropic.ground.si());
  CHECK(std::abs(hay_davies.sky.si() * to_mj - 0.677) < 0.01);
  CHECK(std::abs(hay_davies.total().si() * to_mj - 1.251) < 0.01);
}

// ASHRAE 140, weather-driver case WD100: totals of the test's submittal form. Tolerance zero: a reader that misses a
// row or takes a wrong column fails.
TEST_CASE("totals of the weather-driver file WD100") {
  const std::filesystem::path file = reference_file("denver_co_725650_tmy3_wd100.epw");
  if (!std::filesystem::exists(file)) {
    test::skip("no " + file.filename().string() + " beside the repository");
    return;
  }
  const StationYear year = read_epw(file.string());
  double global = 0, diffuse = 0, air = 0;
  for (const StationRecord& record : year.hours) {
    global += record.global_horizontal;
    diffuse += record.diffuse_horizontal;
    air += record.air_celsius;
  }
  CHECK(global == 1'670'220);
  CHECK(diffuse == 556'451);
  CHECK(std::abs(air / 8760 - 10.875) < 0.0005);
  CHECK(std::abs(air / 8760 - 10.8753) < 0.00005);
  CHECK(annual_horizontal_kwh(year) == doctest::Approx(1670.22));

  // Through the calendar of a common year nothing is lost or counted twice.
  const Weather weather(year, year.site, {2023, 1, 1}, {2023, 12, 31});
  double energy = 0, kelvin_hours = 0;
  for (const WeatherInterval& interval : weather.intervals()) {
    const double hours = static_cast<double>(interval.end - interval.begin) / 3600e9;
    energy += interval.ambient.sky.global_horizontal.si() * hours;
    kelvin_hours += interval.ambient.air.si() * hours;
  }
  CHECK(energy == doctest::Approx(1'670'220).epsilon(1e-12));
  CHECK(std::abs(kelvin_hours / 8760 - 273.15 - 10.8753) < 0.00005);
}

// The file's beam, put at the site's sun, must close the file's own horizontal balance over the year: a sun an hour off
// misses by several per cent. Tolerance 0.5 %, which is what the file's rounding and its own sun leave.
TEST_CASE("beam and diffuse of measured-type years close the horizontal balance") {
  for (const char* name : {"denver_co_725650_tmy3_wd100.epw", "chicago_il_725300_tmy3.epw"}) {
    const std::filesystem::path file = reference_file(name);
    if (!std::filesystem::exists(file)) {
      test::skip(std::string("no ") + name + " beside the repository");
      continue;
    }
    CAPTURE(name);
    const StationYear year = read_epw(file.string());
    const Weather weather(year, year.site, {2023, 1, 1}, {2023, 12, 31});
    double closed = 0;
    for (const WeatherInterval& interval : weather.intervals()) {
      const Sky& sky = interval.ambient.sky;
      closed += sky.diffuse_horizontal.si() + sky.beam_normal.si() * std::max(0.0, cos(sky.sun_zenith));
    }
    CHECK(closed / 1000 == doctest::Approx(annual_horizontal_kwh(year)).epsilon(0.005));
  }
}
