// What a consumer draws from its supply.
//
//   (1) conductance   I = G V
//   (2) current       I = I0      for V >= Vmin
//   (3) power         I = P / V   for V >= Vmin
//   (4) below Vmin, the supply range, (2) and (3) turn resistive through the same point: I = I0 V / Vmin,
//       I = P V / Vmin^2
// Definitions: common practice (load models by constant impedance, current and power); (4) is a class assumption that
// keeps the law continuous and passive.
#pragma once

#include "models/units.hpp"

namespace overwinter {

struct Demand {
  enum Kind { conductance, current, power } kind = current;
  double amount = 0;  ///< S, A or W
};

template <class T>
T demanded(const Demand& d, const T& v, double minimum_supply) {
  switch (d.kind) {
    case Demand::conductance:
      return d.amount * v;  // (1)
    case Demand::current:
      if (v < minimum_supply) return d.amount / minimum_supply * v;  // (4)
      return T(d.amount);                                            // (2)
    case Demand::power:
      if (v < minimum_supply) return d.amount / (minimum_supply * minimum_supply) * v;  // (4)
      return d.amount / v;                                                              // (3)
  }
  return T(0.0);
}

}  // namespace overwinter
