// P-channel MOSFET as a high-side switch: source towards the supply, drain towards the load.
//
//   U = Vsource - Vgate (gate drive), V = Vsource - Vdrain, D the body-diode law (body_diode.hpp)
//   (1) I = g(U) V + G V - D(-V)               channel, leakage, body diode (conducts when drain is above source)
//   (2) ln g through the points U, 1/R of the on-resistance curve, from the lowest drive U1 of that curve upwards;
//       monotone cubic (Fritsch & Carlson 1980), the last value held. The logarithm makes it the same whether
//       resistance or conductance is interpolated
//   (3) g = b w ln(1 + exp((U - U0) / w)) below U1   strong inversion (linear) and weak inversion (exponential, w =
//       n k T / q) in one law, after Enz, Krummenacher & Vittoz 1995, Analog Integr. Circuits Signal Process. 8,
//       83-114; simplified, with the same limits for small V
//   (4) b and U0 follow from g(U1) = 1/R1 and g(Uth) = Ith / Uth: at the datasheet's threshold Uth, measured with drain
//       and gate tied, the test current Ith flows at V = Uth
//   (5) G = Ileak / Vleak
//   (6) Igate = U (1/Rpull + Igl / Vgl)              from source to gate: pull-up where there is one, leakage
//
// In a transient (View::transient) the gate's charge takes its time: Cgs from source to gate and Cgd from drain to
// gate, each behind Rg, and the channel follows the voltage x of Cgs in place of U:
//   (7) Is = (U - x)/Rg, Cgs dx/dt = Is; Id = (Vdrain - Vgate - y)/Rg, Cgd dy/dt = Id
// Ciss = Cgs + Cgd, Crss = Cgd: definitions of the input and reverse transfer capacitance, common practice. Their
// voltage dependence is left out. A gate that is charged with I moves the drain by I/Cgd (plateau); as each has Rg to
// itself, it takes a resistance on the gate's line to show one. Leads have no inductance: a store that is switched on
// hard draws a higher and shorter peak than on a board, and ends at the same voltage.
//
// (3) enters as closely spaced points of the curve of (2). The channel is a resistance at every V: that a half-driven
// one saturates is left out, except that (4) meets the datasheet's point (class assumption).
// On-resistances are at 25 degC. Stuck on, the channel keeps the resistance of the highest gate drive of its curve;
// stuck off, it leaks and its body diode conducts.
#pragma once

#include <cmath>
#include <memory>
#include <optional>
#include <vector>

#include "models/model.hpp"
#include "models/paths/body_diode.hpp"
#include "models/table.hpp"

namespace overwinter {

enum class StuckSwitch { free, on, off };

struct PSwitchParameters {
  Curve on_resistance;
  Voltage threshold{};
  Current threshold_current{250e-6};
  std::optional<Resistance> gate_pull_up;
  Capacitance gate_capacitance{1e-9};
  std::optional<Capacitance> reverse_capacitance;
  Resistance gate_resistance{5.0};
  Current gate_leakage{100e-9};
  Voltage gate_leakage_voltage{8.0};
  Current drain_leakage{1e-6};
  Voltage drain_leakage_voltage{20.0};
  Voltage diode_voltage{0.75};
  Resistance diode_resistance{0.05};
  StuckSwitch stuck = StuckSwitch::free;  ///< by a fault: whatever the gate says
};

class PSwitch final : public NetworkModel<PSwitch, 3, 0> {
 public:
  /// `channel`: ln g (S) over gate drive (V).
  PSwitch(const PSwitchParameters&, Curve channel);
  static std::shared_ptr<const Model> build(const PSwitchParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void enter_transient(const View&, Writable&, double* booked) const override;
  void rates(const View&, double* dxdt) const override;
  void flows(const View&, double* flow) const override;
  const PSwitchParameters& parameters() const { return p_; }

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T v = z[0] - z[1], drive = z[0] - z[2];
    const T gate = drive * gate_conductance_;  // (6)
    if (view.transient) {
      const T through = channel(view.x[source_gate]) * v - diode_(-v);                // (1)
      const T from_source = (drive - view.x[source_gate]) * series_conductance_;      // (7)
      const T from_drain = (z[1] - z[2] - view.x[drain_gate]) * series_conductance_;  // (7)
      f[0] = through + gate + from_source;
      f[1] = from_drain - through;
      f[2] = -(gate + from_source + from_drain);
      return;
    }
    const T through = channel(drive) * v - diode_(-v);  // (1)
    f[0] = through + gate;
    f[1] = -through;
    f[2] = -gate;
  }

 private:
  enum State { source_gate, drain_gate };
  enum Conduction { off, half_driven, on };

  /// Conductance between source and drain besides the body diode, S.
  double channel(double drive) const {
    return std::exp(channel_(drive)) + off_conductance_;  // (2), (5)
  }
  template <int N>
  Dual<N> channel(const Dual<N>& drive) const {
    const double g = std::exp(channel_(drive.value));
    return Dual<N>::chain(g + off_conductance_, g * channel_.slope(drive.value), drive);
  }

  static double across(const View& view) { return view.z[0] - view.z[1]; }
  static double pin_drive(const View& view) { return view.z[0] - view.z[2]; }
  static double drive(const View& view) { return view.transient ? view.x[source_gate] : pin_drive(view); }
  double full_drive() const { return p_.on_resistance.x().front(); }
  double off_drive() const { return off_share * p_.threshold.si(); }
  double half_drive(const View&) const;
  Conduction conduction(const View&) const;

  static constexpr double off_share = 0.5;     // of the threshold, below it the channel conducts less than it leaks
  static constexpr double notable_drop = 0.1;  // V, below it a half-driven switch harms nobody: class assumption

  PSwitchParameters p_;
  Curve channel_;
  BodyDiode diode_;
  double off_conductance_, gate_conductance_, series_conductance_;
  double source_capacitance_ = 0, drain_capacitance_ = 0;  ///< Cgs, Cgd of (7), F
};

}  // namespace overwinter
