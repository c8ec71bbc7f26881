// How much of the light on the ground comes from the whole sky and how much straight from the sun.
//
//   (1)  G0n = Gsc / R^2                                            inverse-square law, R in astronomical units
//   (2)  kt  = G / (G0n cos z)                                      Duffie & Beckman, 5th ed. 2020, sec. 2.9
//   (3)  Gd/G = 1 - 0.09 kt                                         kt <= 0.22
//             = 0.9511 - 0.1604 kt + 4.388 kt^2 - 16.638 kt^3 + 12.336 kt^4
//             = 0.165                                               kt > 0.80        Erbs, Klein & Duffie 1982, hourly
//   (4)  Hd/H = 1 - 0.2727 KT + 2.4495 KT^2 - 11.9514 KT^3 + 9.3879 KT^4           KT < 0.715, sunset <= 81.4 deg
//             = 0.143                                                              else, sunset <= 81.4 deg
//             = 1 + 0.2832 KT - 2.5557 KT^2 + 0.8448 KT^3                          KT < 0.722, sunset > 81.4 deg
//             = 0.175                                               else             Erbs, Klein & Duffie 1982, daily
//
// (3) and (4) also stand in Duffie & Beckman 2020 as (2.10.1) and (2.11.1); KT is (2) of a day's sums.
#pragma once

#include "models/light/sun.hpp"
#include "models/units.hpp"

namespace overwinter {

/// Total solar irradiance at one astronomical unit (Kopp & Lean 2011: 1360.8 W/m2, rounded).
inline constexpr Irradiance solar_constant{1361.0};

/// Irradiance outside the atmosphere on a plane facing the sun (1). `distance` in astronomical units, > 0.
Irradiance extraterrestrial_normal(double distance);

/// Diffuse share of an hour's horizontal irradiance (3), 0.165...1, for a clearness index >= 0.
double erbs_diffuse_fraction(double clearness);

/// Diffuse share of a day's horizontal irradiation (4), 0.143...1, for a clearness index >= 0. `sunset`: hour angle of
/// the setting sun, 0...180 deg.
double erbs_daily_diffuse_fraction(double clearness, Angle sunset);

/// An hour's light, all of it hourly means.
struct Split {
  Irradiance beam_normal;
  Irradiance diffuse_horizontal;
};

/// The sun's share of an hour as its mean irradiance: G0n times cos z, times the lit part of the hour.
Irradiance extraterrestrial_horizontal(const IntervalSun&);

/// Splits an hour's global irradiance by (2) and (3). The beam is what closes G = Gb cos z + Gd; where it would exceed
/// the light outside the atmosphere, and where the sun is down, the rest counts as diffuse. Needs global >= 0.
Split split_global(Irradiance global_horizontal, const IntervalSun&);

/// The beam that closes the horizontal balance for a given diffuse part, with the same bound as split_global.
Split split_with_diffuse(Irradiance global_horizontal, Irradiance diffuse_horizontal, const IntervalSun&);

}  // namespace overwinter
