// The days that a dead instrument is given to come back in: the same sky from before dawn, day after day.
//
//   (1) clear sky   G = Gc(z)                              Haurwitz 1945 (models/light/clear_sky.hpp)
//   (2) overcast    G = (1 - 0.75 N^3.4) Gc(z), N = 1: 0.25 Gc(z)
//                                                          Kasten & Czeplak 1980, Solar Energy 24, 177-189 (from
//                                                          memory)
//   (3) G is split into direct and diffuse light after Erbs, Klein & Duffie 1982 (models/light/split.hpp)
//   (4) air: T1 from midnight to sunrise; from there to two hours after solar noon
//         T = (T1 + T2)/2 - (T2 - T1)/2 cos(pi (t - rise)/(warmest - rise)), and back to T1 at midnight in the same way
//                                     lowest at sunrise, highest at 14 h: de Wit, Goudriaan & van Laar 1978, Simulation
//                                     of assimilation, respiration and transpiration of crops (from memory); the flat
//                                     night is a class assumption
//
// A clearness index is light on the horizontal over that outside the atmosphere, of a whole day.
#pragma once

#include <string>
#include <vector>

#include "sim/weather/weather.hpp"

namespace overwinter {

struct DawnProfile {
  std::string name;
  std::string text;         ///< the sky and the air in numbers
  double clearness = 0;     ///< of its first day
  double light = 0;         ///< on the horizontal, J/m2 on its first day
  double coldest_degC = 0;  ///< air, until sunrise
  double warmest_degC = 0;  ///< air, two hours after noon
  Weather weather;
};

/// Whose laws the light follows, for results.
inline constexpr const char* light_laws =
    "clear sky after Haurwitz 1945, an overcast one after Kasten & Czeplak 1980, direct and diffuse light after Erbs, "
    "Klein & Duffie 1982";

/// When the sun rises and sets on a day of the site's standard time, above the true horizon: the longest stretch of
/// sun, none where it stays down.
struct Daylight {
  Tick rise = 0, set = 0;
  Tick noon() const { return rise + (set - rise) / 2; }
  bool none() const { return rise == set; }
};
Daylight daylight_on(const Site&, CivilDate);

/// The profiles over `days` days from `date`, on which the sun must rise. `fine`: more of them.
std::vector<DawnProfile> dawn_profiles(const Site&, CivilDate date, int days, bool fine);

/// The day of a span's weather with the least light on the horizontal, the first of several.
CivilDate dullest_day(const Weather&);

}  // namespace overwinter
