// The functions behind exponential integrators (Cox & Matthews 2002, J. Comput. Phys. 176, 430-455):
//   (1) phi_k(z) = integral of e^((1-s) z) s^(k-1)/(k-1)! ds over 0...1, phi_0(z) = e^z
//   (2) phi_(k+1)(z) = (phi_k(z) - 1/k!)/z                           by parts
//   (3) phi_5(z) = sum of z^n/(n+5)! over n >= 0                     (1) with the exponential's series
#pragma once

#include <array>
#include <cmath>

namespace overwinter {

/// phi_0...phi_5.
using Phi = std::array<double, 6>;

inline constexpr Phi phi_of_zero = {1, 1, 1.0 / 2, 1.0 / 6, 1.0 / 24, 1.0 / 120};

/// At z <= 0. Near zero the series, where the differences of (2) would cancel.
inline Phi phi(double z) {
  if (z == 0) return phi_of_zero;
  Phi p;
  if (z > -1.5) {
    double sum = 1;
    for (int n = 23; n > 5; --n) sum = 1 + z / n * sum;
    p[5] = sum / 120;                                                        // (3)
    for (std::size_t k = 5; k-- > 0;) p[k] = phi_of_zero[k] + z * p[k + 1];  // (2)
    return p;
  }
  const double less = std::expm1(z);
  p[0] = 1 + less;
  p[1] = less / z;
  for (std::size_t k = 1; k < 5; ++k) p[k + 1] = (p[k] - phi_of_zero[k]) / z;  // (2)
  return p;
}

}  // namespace overwinter
