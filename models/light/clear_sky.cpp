#include "models/light/clear_sky.hpp"

#include <cmath>

namespace overwinter {

Irradiance clear_sky(Angle sun_zenith) {
  const double height = cos(sun_zenith);
  if (height <= 0) return Irradiance{};
  return Irradiance{1098.0 * height * std::exp(-0.059 / height)};  // (1)
}

}  // namespace overwinter
