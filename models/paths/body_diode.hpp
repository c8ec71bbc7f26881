// The diode that lies across the channel of a power MOSFET, or from a logic pin to its supply, as an explicit law with
// a rounded knee.
//
//   (1) I(V) = (w / R) (ln(1 + exp((V - Vf) / w)) - ln(1 + exp(-Vf / w)))
//
// Class assumption. Far above the forward voltage Vf it is a straight line of slope 1/R through Vf, far below an
// exponential that rises e-fold over the knee width w, as the junction's law does (Sze & Ng, Physics of Semiconductor
// Devices, 3rd ed. 2007, ch. 2). I(0) = 0, 0 <= dI/dV <= 1/R: passive, and never more than a resistor R would carry.
// R takes in whatever lies in series with the diode. No temperature in it.
#pragma once

#include <cmath>

#include "models/dual.hpp"
#include "models/units.hpp"

namespace overwinter {

/// ln(1 + e^x) without overflow.
inline double softplus(double x) { return (x > 0 ? x : 0.0) + std::log1p(std::exp(-std::abs(x))); }
template <int N>
Dual<N> softplus(const Dual<N>& a) {
  const double e = std::exp(-std::abs(a.value));
  const double slope = (a.value > 0 ? 1.0 : e) / (1.0 + e);
  return Dual<N>::chain((a.value > 0 ? a.value : 0.0) + std::log1p(e), slope, a);
}

class BodyDiode {
 public:
  /// `forward_voltage` > 0: where the straight part, continued, meets zero current. `resistance` > 0: its slope.
  BodyDiode(Voltage forward_voltage, Resistance resistance)
      : offset_(-forward_voltage.si() / knee), at_zero_(softplus(offset_)), scale_(knee / resistance.si()) {}

  /// Current (A) at a forward voltage of `v` (V), any sign.
  template <class T>
  T operator()(const T& v) const {
    return scale_ * (softplus(v * (1.0 / knee) + offset_) - at_zero_);  // (1)
  }

 private:
  static constexpr double knee = 0.03;  // V, n k T / q at 25 degC with n = 1.2: class assumption

  double offset_, at_zero_, scale_;
};

}  // namespace overwinter
