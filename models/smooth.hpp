// Smooth stand-ins for the corners of idealised laws, so that the network solve sees continuous derivatives.
// None changes the sign of what it replaces, and each is zero where that is zero; how far it stays below it stands at
// each function.
#pragma once

#include <cmath>

#include "models/dual.hpp"

namespace overwinter {

/// e^x, continued by its tangent above x = 60, where no physical operating point lies: keeps Newton's trial points
/// finite.
template <class T>
T bounded_exp(const T& x) {
  using std::exp;
  constexpr double bound = 60.0;
  if (value_of(x) < bound) return exp(x);
  return std::exp(bound) * (1.0 + (x - bound));
}

/// max(0, x) with a parabola between 0 and 2 `width`: zero for x <= 0, x - width beyond.
template <class T>
T soft_ramp(const T& x, double width) {
  if (value_of(x) <= 0) return T(0.0);
  if (value_of(x) >= 2 * width) return x - width;
  return x * x * (1.0 / (4 * width));
}

/// 0 below `low`, 1 above `high`, 3 s^2 - 2 s^3 between.
template <class T>
T soft_step(const T& x, double low, double high) {
  if (value_of(x) <= low) return T(0.0);
  if (value_of(x) >= high) return T(1.0);
  const T s = (x - low) * (1.0 / (high - low));
  return s * s * (3.0 - 2.0 * s);
}

/// The smaller of two currents a, b >= 0: (a^-32 + b^-32)^(-1/32). Zero where either is zero; 2.1 % low where they
/// are equal, 0.0001 % low where they differ by a factor of 1.4.
template <class T>
T soft_min(const T& a, const T& b) {
  using std::sqrt;
  const T& low = value_of(a) < value_of(b) ? a : b;
  const T& high = value_of(a) < value_of(b) ? b : a;
  if (value_of(low) <= 0) return T(0.0);
  if (value_of(low) < 0.3 * value_of(high)) return low;  // 0.3^32 / 32 is below rounding
  T p = low / high;
  for (int i = 0; i < 5; ++i) p = p * p;
  p = 1.0 + p;
  for (int i = 0; i < 5; ++i) p = sqrt(p);
  return low / p;
}

/// Sign of x, smoothed over `width`: x / sqrt(x^2 + width^2).
template <class T>
T soft_sign(const T& x, double width) {
  using std::sqrt;
  return x / sqrt(x * x + width * width);
}

}  // namespace overwinter
