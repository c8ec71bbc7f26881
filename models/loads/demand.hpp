// What a consumer draws from its supply.
//
//   (1) conductance   I = G V
//   (2) current       I = I0      for V >= Vmin
//   (3) power         I = P / V   for V >= Vmin
//   (4) below Vmin, the supply range, (2) and (3) turn resistive through the same point: I = I0 V / Vmin,
//       I = P V / Vmin^2; within 5 % of Vmin the corner is rounded (1.25 % low at Vmin)
// Definitions: common practice (load models by constant impedance, current and power); (4) is a class assumption that
// keeps the law continuous and passive.
#pragma once

#include "models/dual.hpp"

namespace overwinter {

struct Demand {
  enum Kind { conductance, current, power } kind = current;
  double amount = 0;  ///< S, A or W
};

/// V / Vmin up to 0.95, 1 from 1.05 on, a parabola between.
template <class T>
T supply_share(const T& v, double minimum_supply) {
  constexpr double width = 0.05;
  const T u = v * (1 / minimum_supply);
  if (value_of(u) <= 1 - width) return u;
  if (value_of(u) >= 1 + width) return T(1.0);
  const T over = u - (1 - width);
  return u - over * over * (1 / (4 * width));
}

template <class T>
T demanded(const Demand& d, const T& v, double minimum_supply) {
  switch (d.kind) {
    case Demand::conductance:
      return d.amount * v;  // (1)
    case Demand::current:
      return d.amount * supply_share(v, minimum_supply);  // (2), (4)
    case Demand::power: {
      if (value_of(v) < 0.9 * minimum_supply) return d.amount / (minimum_supply * minimum_supply) * v;  // (4)
      const T share = supply_share(v, minimum_supply);
      return d.amount * share * share / v;  // (3), (4)
    }
  }
  return T(0.0);
}

}  // namespace overwinter
