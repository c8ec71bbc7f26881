#include "models/light/transposition.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

double cos_incidence(Angle sun_zenith, Angle sun_azimuth, const Plane& plane) {
  return cos(sun_zenith) * cos(plane.tilt) +
         sin(sun_zenith) * sin(plane.tilt) * cos(sun_azimuth - plane.azimuth);  // (1)
}

PlaneIrradiance plane_irradiance(const Sky& sky, const Plane& plane, SkyModel model) {
  const double cos_zenith = cos(sky.sun_zenith);
  const bool up = cos_zenith > 0;
  const double cos_beam = up ? std::max(0.0, cos_incidence(sky.sun_zenith, sky.sun_azimuth, plane)) : 0.0;
  const double sky_view = (1.0 + cos(plane.tilt)) / 2.0;

  PlaneIrradiance light;
  light.beam = sky.beam_normal * cos_beam;                                              // (2)
  light.ground = sky.global_horizontal * (sky.albedo * (1.0 - cos(plane.tilt)) / 2.0);  // (5)
  light.sky = sky.diffuse_horizontal * sky_view;                                        // (3)
  if (model == SkyModel::hay_davies && up && sky.beam_normal > Irradiance{}) {
    constexpr double floor = 0.08715574274765817;  // cos 85 deg
    const double anisotropy = std::min(1.0, sky.beam_normal / sky.extraterrestrial_normal);
    const double faded = anisotropy * std::min(1.0, cos_zenith / floor);
    const double circumsolar = anisotropy * cos_beam / std::max(cos_zenith, floor);
    light.sky = sky.diffuse_horizontal * ((1.0 - faded) * sky_view + circumsolar);  // (4)
  }
  return light;
}

double incidence_modifier(double cos_incidence, double b0) {
  if (cos_incidence <= 0) return 0.0;
  return std::clamp(1.0 - b0 * (1.0 / cos_incidence - 1.0), 0.0, 1.0);  // (6)
}

}  // namespace overwinter
