// What a part can know of the weather: one interval's constant values.
#pragma once

#include "models/units.hpp"

namespace overwinter {

/// Light over one weather interval. Angles: azimuth clockwise from true north.
struct Sky {
  Irradiance global_horizontal{};
  Irradiance diffuse_horizontal{};
  Irradiance beam_normal{};
  Irradiance extraterrestrial_normal{};  ///< solar constant corrected for the day's sun distance
  Angle sun_zenith{pi / 2};
  Angle sun_azimuth{};
  double albedo = 0.2;  ///< ground reflectance, 0...1
};

struct Ambient {
  Temperature air{zero_celsius};
  Sky sky;
};

}  // namespace overwinter
