// Curves and maps read at arguments that carry derivatives.
#pragma once

#include <algorithm>
#include <utility>

#include "models/curve.hpp"
#include "models/dual.hpp"

namespace overwinter {

inline double look_up(const Curve& curve, double x) { return curve(x); }
template <int N>
Dual<N> look_up(const Curve& curve, const Dual<N>& x) {
  return Dual<N>::chain(curve(x.value), curve.slope(x.value), x);
}

namespace detail {
/// The grid interval an argument lies in, and its share of that interval: constant beyond the ends.
template <class T>
std::pair<std::size_t, T> place_on(const std::vector<double>& axis, const T& at) {
  const double value = value_of(at);
  if (value <= axis.front() || axis.size() == 1) return {0, T(0.0)};
  if (value >= axis.back()) return {axis.size() - 2, T(1.0)};
  const auto above = std::upper_bound(axis.begin() + 1, axis.end() - 1, value);
  const std::size_t i = static_cast<std::size_t>(above - axis.begin()) - 1;
  return {i, (at - axis[i]) * (1.0 / (axis[i + 1] - axis[i]))};
}
}  // namespace detail

/// The value of Map::operator(), with its slope. The map must not be empty.
template <class T>
T look_up(const Map& map, const T& x, const T& y) {
  const auto [i, a] = detail::place_on(map.x(), x);
  const auto [j, b] = detail::place_on(map.y(), y);
  const std::size_t i_next = std::min(i + 1, map.x().size() - 1), j_next = std::min(j + 1, map.y().size() - 1);
  const std::vector<double>&low = map.z()[i], &high = map.z()[i_next];
  const T below = low[j] + b * (low[j_next] - low[j]);
  return below + a * ((high[j] + b * (high[j_next] - high[j])) - below);
}

}  // namespace overwinter
