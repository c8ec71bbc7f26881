#include "models/light/sun.hpp"

#include <algorithm>
#include <array>
#include <boost/math/tools/minima.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>

namespace overwinter {
namespace {

constexpr double degree = pi / 180.0;
constexpr double arcsecond = degree / 3600.0;
constexpr Tick j2000 = 946'728'000 * ticks_per_second;  // 2000-01-01 12:00

struct Term {
  double amplitude;  // 1e-8 rad or 1e-8 au
  double phase;      // rad
  double frequency;  // rad per millennium
};

// The largest terms of VSOP87 for the earth; what is left out sums to less than 4" over 1990...2060.
constexpr std::array<Term, 24> longitude0{{{175347046, 0, 0},
                                           {3341656, 4.6692568, 6283.0758500},
                                           {34894, 4.62610, 12566.15170},
                                           {3497, 2.7441, 5753.3849},
                                           {3418, 2.8289, 3.5231},
                                           {3136, 3.6277, 77713.7715},
                                           {2676, 4.4181, 7860.4194},
                                           {2343, 6.1352, 3930.2097},
                                           {1324, 0.7425, 11506.7698},
                                           {1273, 2.0371, 529.6910},
                                           {1199, 1.1096, 1577.3435},
                                           {990, 5.233, 5884.927},
                                           {902, 2.045, 26.298},
                                           {857, 3.508, 398.149},
                                           {780, 1.179, 5223.694},
                                           {753, 2.533, 5507.553},
                                           {505, 4.583, 18849.228},
                                           {492, 4.205, 775.523},
                                           {357, 2.920, 0.067},
                                           {317, 5.849, 11790.629},
                                           {284, 1.899, 796.298},
                                           {271, 0.315, 10977.079},
                                           {243, 0.345, 5486.778},
                                           {206, 4.806, 2544.314}}};
constexpr std::array<Term, 4> longitude1{
    {{628331966747, 0, 0}, {206059, 2.678235, 6283.075850}, {4303, 2.6351, 12566.1517}, {425, 1.590, 3.523}}};
constexpr std::array<Term, 2> longitude2{{{52919, 0, 0}, {8720, 1.0721, 6283.0758}}};
constexpr std::array<Term, 7> radius0{{{100013989, 0, 0},
                                       {1670700, 3.0984635, 6283.0758500},
                                       {13956, 3.05525, 12566.15170},
                                       {3084, 5.1985, 77713.7715},
                                       {1628, 1.1739, 5753.3849},
                                       {1576, 2.8469, 7860.4194},
                                       {925, 5.453, 11506.770}}};
constexpr std::array<Term, 1> radius1{{{103019, 1.107490, 6283.075850}}};

template <std::size_t N>
double sum(const std::array<Term, N>& terms, double t) {
  double total = 0;
  for (const Term& term : terms) total += term.amplitude * std::cos(term.phase + term.frequency * t);
  return total * 1e-8;
}

// All of (9): degrees of refraction at an airless elevation in degrees.
double refraction(double elevation, const Observer& observer) {
  // Below the almanac's horizon no light arrives, and the formula has a pole at -5.1 deg.
  if (elevation < almanac_horizon.si() / degree) return 0;
  return observer.pressure.si() / 101000.0 * 283.0 / observer.air.si() * 1.02 / 60.0 /
         std::tan((elevation + 10.3 / (elevation + 5.11)) * degree);
}

}  // namespace

Pressure standard_pressure(Length elevation) {
  return Pressure{101325.0 * std::pow(1.0 - 2.25577e-5 * elevation.si(), 5.25588)};
}

SunPosition sun_position(Tick utc, const Observer& observer) {
  const double days = static_cast<double>(utc - j2000) / static_cast<double>(ticks_per_day);
  const double year = days / 365.25;
  const double delta_t = 62.92 + year * (0.32217 + year * 0.005589);  // (1)
  const double centuries = (days + delta_t / 86400.0) / 36525.0;
  const double t = centuries / 10.0;

  const double longitude = sum(longitude0, t) + t * (sum(longitude1, t) + t * sum(longitude2, t));  // (2)
  const double radius = sum(radius0, t) + t * sum(radius1, t);

  const double node = (125.04452 - 1934.136261 * centuries) * degree;
  const double mean_sun = (280.4665 + 36000.7698 * centuries) * degree;
  const double mean_moon = (218.3165 + 481267.8813 * centuries) * degree;
  const double nutation_longitude = arcsecond * (-17.20 * std::sin(node) - 1.32 * std::sin(2 * mean_sun) -
                                                 0.23 * std::sin(2 * mean_moon) + 0.21 * std::sin(2 * node));  // (4)
  const double nutation_obliquity = arcsecond * (9.20 * std::cos(node) + 0.57 * std::cos(2 * mean_sun) +
                                                 0.10 * std::cos(2 * mean_moon) - 0.09 * std::cos(2 * node));  // (4)
  const double apparent =
      longitude + pi - 0.09033 * arcsecond + nutation_longitude - 20.4898 * arcsecond / radius;  // (3), (5)
  const double obliquity = (23.4392911 - 0.0130042 * centuries) * degree + nutation_obliquity;   // (6)

  const double ut_centuries = days / 36525.0;
  const double sidereal = (280.46061837 + 360.98564736629 * days + 0.000387933 * ut_centuries * ut_centuries) * degree +
                          nutation_longitude * std::cos(obliquity) + observer.longitude.si();  // (7)

  // Unit vector to the sun: in the equator's frame, then turned to the local meridian, then to the horizon.
  const double x = std::cos(apparent);
  const double y = std::sin(apparent) * std::cos(obliquity);
  const double z = std::sin(apparent) * std::sin(obliquity);
  const double cos_sidereal = std::cos(sidereal), sin_sidereal = std::sin(sidereal);
  const double meridian = x * cos_sidereal + y * sin_sidereal;
  const double west = x * sin_sidereal - y * cos_sidereal;
  const double sin_latitude = sin(observer.latitude), cos_latitude = cos(observer.latitude);
  const double up = z * sin_latitude + meridian * cos_latitude;
  const double north = z * cos_latitude - meridian * sin_latitude;
  const double level = std::hypot(north, west);

  const double zenith_airless = std::atan2(level, up) + 8.794 * arcsecond / radius * level;  // (8), sin p = p
  const double elevation = 90.0 - zenith_airless / degree;
  double azimuth = std::atan2(-west, north);
  if (azimuth < 0) azimuth += 2 * pi;

  SunPosition sun;
  sun.zenith = Angle{zenith_airless - refraction(elevation, observer) * degree};
  sun.zenith_airless = Angle{zenith_airless};
  sun.azimuth = Angle{azimuth};
  sun.declination = Angle{std::asin(z)};
  sun.hour_angle = Angle{std::atan2(west, meridian)};
  sun.distance = radius;
  return sun;
}

std::vector<SunUp> sun_up(Tick begin, Tick end, const Observer& observer, Angle horizon) {
  const auto height = [&](Tick t) { return pi / 2 - sun_position(t, observer).zenith_airless.si() - horizon.si(); };
  std::vector<Tick> crossings;
  const auto cross = [&](Tick a, double height_a, Tick b, double height_b) {
    const auto close = [](double left, double right) { return right - left < 1e-3; };
    std::uintmax_t evaluations = 60;
    const auto seconds = boost::math::tools::toms748_solve(
        [&](double s) { return height(a + static_cast<Tick>(s * ticks_per_second)); }, 0.0,
        static_cast<double>(b - a) / ticks_per_second, height_a, height_b, close, evaluations);
    crossings.push_back(a + static_cast<Tick>((seconds.first + seconds.second) / 2 * ticks_per_second));
  };

  constexpr Tick piece = ticks_per_day / 24;
  // Within an hour of its highest or lowest point the sun moves less than this in height:
  // 1 - cos 15 deg in sine of height, and 0.02 deg of declination.
  constexpr double turning = 2.1 * degree;
  const double first_height = height(begin);
  double height_a = first_height;
  for (Tick a = begin; a < end;) {
    const Tick b = std::min(end, a + piece);
    const double height_b = height(b);
    if ((height_a > 0) != (height_b > 0)) {
      cross(a, height_a, b, height_b);
    } else if (std::max(std::abs(height_a), std::abs(height_b)) < turning) {
      // Polar noon or midnight: the sun may look over the horizon, or dip, between the two ends.
      const double side = height_a > 0 ? 1.0 : -1.0;
      const auto extreme = boost::math::tools::brent_find_minima(
          [&](double s) { return side * height(a + static_cast<Tick>(s * ticks_per_second)); }, 0.0,
          static_cast<double>(b - a) / ticks_per_second, 26);
      const Tick middle = a + static_cast<Tick>(extreme.first * ticks_per_second);
      if (extreme.second < 0 && middle > a && middle < b) {
        cross(a, height_a, middle, side * extreme.second);
        cross(middle, side * extreme.second, b, height_b);
      }
    }
    a = b;
    height_a = height_b;
  }

  std::vector<SunUp> stretches;
  bool up = first_height > 0;
  Tick since = begin;
  for (const Tick crossing : crossings) {
    if (up) stretches.push_back({since, crossing});
    since = crossing;
    up = !up;
  }
  if (up && end > since) stretches.push_back({since, end});
  return stretches;
}

IntervalSun interval_sun(Tick begin, Tick end, const Observer& observer) {
  const Tick middle = begin + (end - begin) / 2;
  IntervalSun result{sun_position(middle, observer), 0};
  const double elevation = pi / 2 - result.sun.zenith_airless.si();
  // The sun's height changes by at most 15 deg an hour and, with the seasons, 0.02 deg.
  const double reach = 7.5 * degree * static_cast<double>(end - begin) / (3600.0 * ticks_per_second) + 0.1 * degree;
  if (elevation < -reach) return result;
  if (elevation > reach) {
    result.lit_fraction = 1;
    return result;
  }
  const std::vector<SunUp> stretches = sun_up(begin, end, observer, true_horizon);
  if (stretches.empty()) return result;
  Tick lit = 0;
  SunUp longest = stretches.front();
  for (const SunUp& stretch : stretches) {
    lit += stretch.end - stretch.begin;
    if (stretch.end - stretch.begin > longest.end - longest.begin) longest = stretch;
  }
  result.lit_fraction = static_cast<double>(lit) / static_cast<double>(end - begin);
  if (lit < end - begin) result.sun = sun_position(longest.begin + (longest.end - longest.begin) / 2, observer);
  return result;
}

}  // namespace overwinter
