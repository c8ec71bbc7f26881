// Linear charge controller for one lithium cell: pre-charge, constant current, constant voltage, termination and
// recharge, with drop-out, weak light, temperature limits and reverse leakage.
//
//   h = Vin - Vout (headroom)
//   (1) I = softmin(Iset, Icv, Idrop)                 the tightest of three limits (smooth.hpp), up to 3.4 % low where
//                                                     all three meet
//   (2) Iset = Ipre while pre-charging, Ichg after; 0 while complete, too cold or too hot
//   (3) Icv = (Vcv - Vout) / Rreg                     regulation loop with a small output resistance
//   (4) Idrop = u (h - hw) / Rpass                    pass element fully on above the wake-up headroom hw
//   (5) Isupply = Istandby + a (Iawake - Istandby)    from the input; a, u rise from 0 to 1 over the comparator windows
//                                                     (and vanishes with the input: Vin / sqrt(Vin^2 + (0.3 V)^2))
//   (6) Ileak = Vout Ileak,cv / Vcv                   out of the cell, always
//
// Profile and its names: common practice for lithium-ion charging (constant current, constant voltage with pre-charge;
// temperature window after the JEITA guideline). Weak light: a real part toggles between asleep and awake there; (4)
// and (5) are the average of that toggling: the awake supply current is drawn in proportion within the window between
// sleep and wake-up headroom, and only what the panel gives beyond it reaches the cell (class assumption).
//
// Complete is a charge whose current has stayed at or below the termination current for the termination delay. In a
// transient its comparators stand still: they wait for tens of milliseconds before they act (deglitch: common
// practice).
#pragma once

#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"

namespace overwinter {

enum class StuckCharger { free, on, off };

struct LinearChargerParameters {
  Voltage charge_voltage{4.2};
  Current charge_current{};
  Current precharge_current{};
  Voltage precharge_voltage{2.9};
  Voltage precharge_hysteresis{0.1};
  Current termination_current{};
  Duration termination_delay{0.025};
  Voltage recharge_voltage{4.05};
  Duration recharge_delay{1.0};
  Resistance regulation_resistance{0.02};
  Resistance pass_resistance{0.6};
  Voltage sleep_headroom{0.03};
  Voltage wake_headroom{0.10};
  Voltage input_minimum{3.4};
  Voltage input_hysteresis{0.15};
  Current awake_current{300e-6};
  Current standby_current{20e-6};
  Current reverse_leakage{2e-6};
  Temperature cold_limit = celsius(0);
  Temperature hot_limit = celsius(45);
  Temperature temperature_hysteresis{3.0};
  StuckCharger stuck = StuckCharger::free;  ///< by a fault
};

class LinearCharger final : public NetworkModel<LinearCharger, 3, 0> {
 public:
  enum Regime { asleep, precharge, constant_current, constant_voltage, drop_out, complete, too_cold, too_hot };

  explicit LinearCharger(const LinearChargerParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const LinearChargerParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const LinearChargerParameters& parameters() const { return p_; }
  void start(const Ambient&, Writable&) const override;
  void take_over(const Model& former, const View&, Writable&, double* booked) const override;
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const Limits<T> l = limits(view, VoltageOf<T>{z[0] - z[2]}, VoltageOf<T>{z[1] - z[2]});
    const T charge = soft_min(soft_min(l.set, l.cv), l.drop);  // (1)
    f[0] = charge + l.supply;
    f[1] = l.leak - charge;
    f[2] = -(l.supply + l.leak);
  }

 private:
  enum Memory { precharging, terminated, temperature_block, recharge_held, tapered, memory_count };
  enum Alarm { recharge_alarm, complete_alarm };
  enum Block { within, below, above };

  /// The currents of (2) to (6), in ampere.
  template <class T>
  struct Limits {
    T set, cv, drop, supply, leak;
  };

  template <class T>
  Limits<T> limits(const View& view, const VoltageOf<T>& in, const VoltageOf<T>& out) const {
    const T h = (in - out).si();
    const double hs = p_.sleep_headroom.si(), hw = p_.wake_headroom.si();
    const double full = p_.input_minimum.si(), none = (p_.input_minimum - p_.input_hysteresis).si();
    const T powered = soft_step(in.si(), none, full);
    const T awake = powered * soft_step(h, hs, hw);
    const T cv = (p_.charge_voltage - out).si() * (1.0 / p_.regulation_resistance.si());
    Limits<T> l;
    l.set = T(set_current(view).si());                                               // (2)
    l.cv = value_of(cv) > 0 ? cv : T(0.0);                                           // (3)
    l.drop = powered * soft_ramp(h - hw, corner) * (1.0 / p_.pass_resistance.si());  // (4)
    l.supply = soft_sign(in.si(), supply_corner) *
               (p_.standby_current.si() + awake * (p_.awake_current - p_.standby_current).si());  // (5)
    l.leak = out.si() * (p_.reverse_leakage / p_.charge_voltage).si();                            // (6)
    return l;
  }
  Limits<double> limits(const View& view) const {
    return limits(view, Voltage{view.z[0] - view.z[2]}, Voltage{view.z[1] - view.z[2]});
  }

  Current set_current(const View&) const;
  /// By how much the current is below the termination current, A, with everything else about a full charge in order;
  /// negative where not.
  double below_termination(const View&) const;
  Regime regime(const View&) const;
  double charging(const View&) const;
  static void stick_on(LinearChargerParameters&, const FaultValues&);
  double headroom(const View& view) const { return view.z[0] - view.z[1]; }
  double input(const View& view) const { return view.z[0] - view.z[2]; }
  double output(const View& view) const { return view.z[1] - view.z[2]; }

  static constexpr double corner = 0.005;       // V, rounding of the pass element's turn-on
  static constexpr double supply_corner = 0.3;  // V, below it the supply current vanishes with the input

  LinearChargerParameters p_;
};

}  // namespace overwinter
