// A number with N partial derivatives (forward-mode differentiation).
//
// The models write each equation once, as a template over its number type: with double it yields the value, with Dual
// also the exact Jacobian entries of the network solve. Only what the models use is provided.
#pragma once

#include <array>
#include <cmath>

namespace overwinter {

template <int N>
struct Dual {
  double value = 0;
  std::array<double, N> slope{};

  constexpr Dual() = default;
  constexpr Dual(double constant) : value(constant) {}
  /// The independent variable with index `which`.
  static constexpr Dual variable(double value, int which) {
    Dual x(value);
    x.slope[static_cast<std::size_t>(which)] = 1.0;
    return x;
  }

  /// f(a) with derivative df at a: the chain rule.
  static constexpr Dual chain(double f, double df, const Dual& a) {
    Dual r(f);
    for (int i = 0; i < N; ++i) r.slope[i] = df * a.slope[i];
    return r;
  }
  /// f(a, b) with partial derivatives fa and fb.
  static constexpr Dual chain(double f, double fa, const Dual& a, double fb, const Dual& b) {
    Dual r(f);
    for (int i = 0; i < N; ++i) r.slope[i] = fa * a.slope[i] + fb * b.slope[i];
    return r;
  }

  friend constexpr Dual operator-(const Dual& a) { return chain(-a.value, -1.0, a); }
  friend constexpr Dual operator+(const Dual& a, const Dual& b) { return chain(a.value + b.value, 1.0, a, 1.0, b); }
  friend constexpr Dual operator-(const Dual& a, const Dual& b) { return chain(a.value - b.value, 1.0, a, -1.0, b); }
  friend constexpr Dual operator*(const Dual& a, const Dual& b) {
    return chain(a.value * b.value, b.value, a, a.value, b);
  }
  friend constexpr Dual operator/(const Dual& a, const Dual& b) {
    return chain(a.value / b.value, 1.0 / b.value, a, -a.value / (b.value * b.value), b);
  }
  friend constexpr bool operator<(const Dual& a, const Dual& b) { return a.value < b.value; }
  friend constexpr bool operator>(const Dual& a, const Dual& b) { return a.value > b.value; }
};

inline double value_of(double x) { return x; }
template <int N>
double value_of(const Dual<N>& x) {
  return x.value;
}

template <int N>
Dual<N> exp(const Dual<N>& a) {
  const double e = std::exp(a.value);
  return Dual<N>::chain(e, e, a);
}
template <int N>
Dual<N> sqrt(const Dual<N>& a) {
  const double r = std::sqrt(a.value);
  return Dual<N>::chain(r, 0.5 / r, a);
}

}  // namespace overwinter
