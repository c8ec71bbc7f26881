// Where the sun stands.
//
// Sources: M = Meeus, Astronomical Algorithms, 2nd ed. 1998; VSOP87 = Bretagnon & Francou 1988, the series for the
// earth as printed in M appendix III, truncated here. T is Julian centuries of dynamical time since J2000.0.
//   (1)  Delta T = 62.92 + 0.32217 y + 0.005589 y^2 seconds, y = years since 2000   Espenak & Meeus 2006, for
//   2005...2050 (2)  heliocentric longitude L and radius R: sums of A t^n cos(B + C t), t = T/10             M (32.2),
//   VSOP87 (3)  geocentric longitude L + 180 deg - 0.09033" (change to the FK5 frame)                   M ch. 25 (4)
//   nutation in longitude and obliquity, four terms each                                    M ch. 22 (5)  aberration
//   -20.4898"/R                                                                  M (25.10) (6)  mean
//   obliquity 23.4392911 - 0.0130042 T deg                                             M (22.2) (7)  apparent sidereal
//   time at Greenwich                                                     M (12.4), ch. 12 (8)  parallax in altitude:
//   sin p = sin(8.794"/R) sin z                                       M ch. 40 (9)  refraction 1.02'/tan(e + 10.3/(e
//   + 5.11)) p/1010 hPa 283 K/temperature, e in degrees    M (16.4)
//
// Left out: the sun's ecliptic latitude (below 1.4"), the difference UT1 - UTC (below 0.9 s, 0.004 deg of hour angle)
// and, outside 2005...2050, better values of Delta T ((1) is off by less than 30 s, 0.0004 deg, in 1950...2060).
#pragma once

#include <vector>

#include "models/model.hpp"
#include "models/units.hpp"

namespace overwinter {

using Pressure = Quantity<Dim<-1, 1, -2, 0, 0>>;

/// Air pressure at a height above sea level, -1000...11000 m (ISO 2533:1975, standard atmosphere).
Pressure standard_pressure(Length elevation);

/// Someone looking at the sun. Pressure and temperature matter only for refraction.
struct Observer {
  Angle latitude{};   ///< north positive, -90...90 deg
  Angle longitude{};  ///< east positive
  Pressure pressure{101325.0};
  Temperature air{celsius(10.0)};
};

struct SunPosition {
  Angle zenith;          ///< of the sun's centre, topocentric, as seen through the air (9)
  Angle zenith_airless;  ///< the same without refraction
  Angle azimuth;         ///< clockwise from true north, 0...360 deg
  Angle declination;     ///< apparent, geocentric
  Angle hour_angle;      ///< apparent, local, west (afternoon) positive, -180...180 deg
  double distance = 1;   ///< of the earth, in astronomical units
};

/// Within 0.002 deg of the complete VSOP87 solution in 1990...2060 (measured 0.0011 deg;
/// tests/models/light/sun_test.cpp).
SunPosition sun_position(Tick utc, const Observer&);

/// A stretch of time with the sun above a horizon.
struct SunUp {
  Tick begin;
  Tick end;
};

/// Heights of the sun's centre, without refraction, that count as rising and setting.
inline constexpr Angle true_horizon{0.0};
/// Sunrise and sunset as almanacs give them: upper limb (16') in sight with 34' of refraction (M ch. 15).
inline constexpr Angle almanac_horizon = -0.8333 * units::degree;

/// When the sun is above `horizon` within [begin, end): none, one or more stretches, clipped at begin and end.
/// Crossings are exact to a millisecond of the computed path. Needs begin <= end.
std::vector<SunUp> sun_up(Tick begin, Tick end, const Observer&, Angle horizon);

/// The one sun that stands for an interval of at most an hour.
struct IntervalSun {
  SunPosition sun;          ///< at the middle of the longest stretch of sun, or of the interval where there is none
  double lit_fraction = 0;  ///< part of the interval with the sun above the true horizon, 0...1
};
IntervalSun interval_sun(Tick begin, Tick end, const Observer&);

}  // namespace overwinter
