// The most light that a cloudless sky brings.
//
//   (1)  G = 1098 W/m2 cos z exp(-0.059 / cos z)                    Haurwitz 1945, Journal of Meteorology 2:154
#pragma once

#include "models/units.hpp"

namespace overwinter {

/// Global horizontal irradiance under a cloudless sky (1); zero with the sun at or below the horizon.
Irradiance clear_sky(Angle sun_zenith);

}  // namespace overwinter
