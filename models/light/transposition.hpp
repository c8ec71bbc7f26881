// Light on a tilted plane.
//
// z zenith, b tilt, t incidence angle, G global, Gd diffuse (both horizontal), Gb beam on a plane facing the sun,
// G0n the same outside the atmosphere, rho ground reflectance.
//   (1)  cos t = cos z cos b + sin z sin b cos(sun azimuth - plane azimuth)     Duffie & Beckman 2020, (1.6.3)
//   (2)  beam   = Gb cos t                                                       no light from behind: cos t >= 0
//   (3)  sky    = Gd (1 + cos b)/2                                               isotropic, Liu & Jordan 1963
//   (4)  sky    = Gd ((1 - A)(1 + cos b)/2 + A cos t/cos z), A = Gb/G0n          Hay & Davies 1980
//   (5)  ground = G rho (1 - cos b)/2                                            Liu & Jordan 1963
//   (6)  modifier = 1 - b0 (1/cos t - 1)                                         ASHRAE 93; Souka & Safwat 1966
//
// Near the horizon the ratio cos t/cos z in (4) grows without bound. Below 5 deg of sun height (the floor of Perez et
// al. 1990) A is faded out with cos z/cos 85 deg, so the circumsolar part stays below Gd A/cos 85 deg = 11.5 Gd A, and
// a horizontal plane still receives exactly Gd. A is at most 1.
#pragma once

#include "models/light/sky.hpp"
#include "models/units.hpp"

namespace overwinter {

enum class SkyModel { isotropic, hay_davies };

/// A flat receiver.
struct Plane {
  Angle tilt{};     ///< from horizontal (0, facing up) over vertical (90 deg) to facing down (180 deg)
  Angle azimuth{};  ///< where the raised side's normal points, clockwise from true north
};

/// Plane-of-array irradiance by origin.
struct PlaneIrradiance {
  Irradiance beam;    ///< straight from the sun (2); the modifier (6) applies to this part
  Irradiance sky;     ///< diffuse from the sky (3) or (4), the circumsolar part included
  Irradiance ground;  ///< reflected (5)
  Irradiance total() const { return beam + sky + ground; }
};

/// Cosine of the angle between the sun and the plane's normal (1); negative when the sun is behind the plane.
double cos_incidence(Angle sun_zenith, Angle sun_azimuth, const Plane&);

/// Light on a plane; no beam while the sun is at or below the horizon.
PlaneIrradiance plane_irradiance(const Sky&, const Plane&, SkyModel);

/// Transmittance of a cover for beam at this incidence against normal incidence (6), 0...1; 0 from behind. The formula
/// is meant for up to 60 deg and reaches 0 where cos t = b0/(1 + b0). b0 >= 0; flat glass has about 0.05 (common
/// practice).
double incidence_modifier(double cos_incidence, double b0);

}  // namespace overwinter
