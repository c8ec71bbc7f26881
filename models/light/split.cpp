#include "models/light/split.hpp"

#include <algorithm>

namespace overwinter {

Irradiance extraterrestrial_normal(double distance) {
  return solar_constant / (distance * distance);  // (1)
}

double erbs_diffuse_fraction(double clearness) {
  const double kt = clearness;
  if (kt <= 0.22) return 1.0 - 0.09 * kt;                                                        // (3)
  if (kt <= 0.80) return 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)));  // (3)
  return 0.165;                                                                                  // (3)
}

double erbs_daily_diffuse_fraction(double clearness, Angle sunset) {
  const double kt = clearness;
  if (sunset <= 81.4 * units::degree)
    return kt < 0.715 ? 1.0 + kt * (-0.2727 + kt * (2.4495 + kt * (-11.9514 + kt * 9.3879))) : 0.143;  // (4)
  return kt < 0.722 ? 1.0 + kt * (0.2832 + kt * (-2.5557 + kt * 0.8448)) : 0.175;                      // (4)
}

Irradiance extraterrestrial_horizontal(const IntervalSun& sun) {
  if (sun.lit_fraction <= 0) return Irradiance{};
  return extraterrestrial_normal(sun.sun.distance) * (cos(sun.sun.zenith) * sun.lit_fraction);
}

Split split_global(Irradiance global_horizontal, const IntervalSun& sun) {
  const Irradiance outside = extraterrestrial_horizontal(sun);
  if (!(outside > Irradiance{})) return {Irradiance{}, global_horizontal};
  const double clearness = global_horizontal / outside;  // (2)
  return split_with_diffuse(global_horizontal, global_horizontal * erbs_diffuse_fraction(clearness), sun);
}

Split split_with_diffuse(Irradiance global_horizontal, Irradiance diffuse_horizontal, const IntervalSun& sun) {
  if (sun.lit_fraction <= 0) return {Irradiance{}, global_horizontal};
  const double height = cos(sun.sun.zenith);
  const double most = extraterrestrial_normal(sun.sun.distance).si() * sun.lit_fraction;
  const double beam = std::clamp((global_horizontal.si() - diffuse_horizontal.si()) / height, 0.0, most);
  return {Irradiance{beam}, Irradiance{global_horizontal.si() - beam * height}};
}

}  // namespace overwinter
