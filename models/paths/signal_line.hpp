// Bus or logic lines from a powered domain to a part that may be unpowered: the clamp diode of the part's pin then
// leads the line's current into the part's supply.
//
//   (1) I = n D(Vfrom - Vto), D the diode law of body_diode.hpp with forward voltage Vd and slope 1/R
//       = n (Vfrom - Vto - Vd)/R far above Vd          pull-up and clamp diode in series: Kirchhoff's voltage law
//   (2) I = 0 while the line is low
//
// R is what stands between the supplying net and the pin: a pull-up resistor, the source resistance of an output that
// drives the line high, or the upper resistor of a voltage divider whose lower one is switched off. Below Vd the
// current falls e-fold in 30 mV; backwards flows less than 0.1 pA at 1 kohm (class assumption, for a law without a
// corner).
//
// Left out: whether the supplying net is itself unpowered in a way that holds the line low, clamp diodes to ground, the
// lines' toggling while the bus talks, and that a part powered through its pins may wake up in part.
#pragma once

#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/paths/body_diode.hpp"
#include "models/table.hpp"

namespace overwinter {

struct SignalLineParameters {
  Resistance resistance{};
  Voltage clamp_voltage{0.6};
  int lines = 1;
};

class SignalLine final : public NetworkModel<SignalLine, 2, 0> {
 public:
  explicit SignalLine(const SignalLineParameters& p) : p_(p), diode_(p.clamp_voltage, p.resistance / p.lines) {}
  static std::shared_ptr<const Model> build(const SignalLineParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const SignalLineParameters& parameters() const { return p_; }
  void flows(const View&, double* flow) const override;

  /// Pins: from, to.
  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T i = current(view, z[0] - z[1]);
    f[0] = i;
    f[1] = -i;
  }

 private:
  template <class T>
  T current(const View& view, const T& v) const {
    return view.line[0] == 0 ? T(0.0) : diode_(v);  // (1), (2)
  }

  SignalLineParameters p_;
  BodyDiode diode_;
};

}  // namespace overwinter
