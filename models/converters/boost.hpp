// Step-up converter: averaged over its switching, with lockout, soft start, retry and pass-through.
//
//   V = in, U = out against ground; L = lockout; g = soft_step(V, L/2, L), 1 above the lockout
//   (1) Uset = softmin(Uset0, V / (1 - Dmax))       set-point within reach of the maximum duty: M = 1/(1 - D)
//   (2) Ireg = (Uset - U) / Rreg, not below 0       load regulation, datasheet
//   (3) Imax = e V Ilim g / max(U, e V)             average input current limit; e = efficiency at that limit; the
//                                                   output current never exceeds the inductor's
//   (4) I = softmin(Ireg, Imax)
//   (5) Iin = U I / (eta(V, I) V)                   power balance; eta from the datasheet's efficiency curves
//   (6) Irect = (V - U - Ud) / Rd, not below 0      the rectifier conducts when the input is above the output; while
//                                                   the part is off only if the output is not disconnected
//   (7) Istart = softmin(P / V, Ilim) g             P = C (Uset0^2 - U0^2) / (2 eta tss): the output capacitor's
//                                                   charge, spread evenly over the soft start; U0 = V - Ud, or 0 with
//                                                   the output disconnected
//   (8) Iq = Iq0 V / sqrt(V^2 + (0.3 V)^2)          own consumption, enabled or disabled; vanishes with the input
//   (9) Idiv = U / Rdiv                             feedback divider at the output, always
//  (10) Istress = Ilim g                            worst case of a switch-on: the limit's current, nothing driven
//
// In a transient (View::transient) the output capacitor is a store of its own, u behind its series resistance, and the
// voltage loop takes its time, a proportional and an integral part q at a crossover frequency fc:
//  (11) Ic = (U - u)/Resr, C du/dt = Ic
//  (12) Ireg = gm (r Uset - U) + q, not below 0, gm = 2 pi fc C; tc dI/dt = softmin(Ireg, Imax) - I in place of (4),
//       tc = 1/(20 pi fc): a current loop a decade faster than the voltage loop
//  (13) Ti dq/dt = softmin(Ireg, Imax) (1 - gm Rreg) - q, Ti = 10/(2 pi fc): at rest (12) is (2), and while a limit
//  holds
//       q stays near what flows
//  (14) dr/dt = 1/tss from the rail's voltage at the start up to 1: soft start of the set-point, in place of (7)
//  (15) Iin = I max(U, e V)/(eta(V, I) V) and in (3) the limit less Irect: the inductor's current is one
//  (16) with output_disconnect Irect is a part of I, while the part is on: the wish in (12) is Ireg + Irect, for the
//       disconnecting transistor passes no more than (3) allows; (13) goes by Ireg alone
//  A transient that begins within a soft start begins that start anew, from where the rail is.
//
// (1), (5): Erickson & Maksimovic, Fundamentals of Power Electronics, ch. 2 and 3. (7): energy of a capacitor; it
// counts as lost, because that charge is given up when the part stops; the load starts after the soft start (class
// assumption). (12), (13): the same book, ch. 9, proportional and integral regulator; integral part by feedback of the
// limited output: Astrom & Hagglund 1995, PID Controllers, ch. 3 (from memory). The rectifier's current has no
// inductance before it: its rise, microseconds, is left out.
//
// g lets every converter current vanish below the lockout, where a real part is off: a source too weak for the demand
// always has an operating point, and the lockout's guard sees it. A margin below zero is therefore of the right sign,
// but smaller than without the lockout.
//
// From a lockout to the next start pass at least the retry time and the soft start. No current flows from out to in.
#pragma once

#include <algorithm>
#include <memory>
#include <optional>
#include <vector>

#include "models/look_up.hpp"
#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"

namespace overwinter {

struct BoostParameters {
  Voltage output_voltage{};
  Resistance regulation_resistance{0.02};
  Map efficiency;
  Current quiescent_enabled{};
  Current quiescent_disabled{};
  Voltage lockout{};
  Voltage lockout_hysteresis{0.1};
  Duration soft_start{2e-3};
  Duration retry{0.1};
  Current current_limit{};
  double maximum_duty = 0.9;
  Voltage rectifier_drop{0.3};
  Resistance rectifier_resistance{0.1};
  bool output_disconnect = false;
  Capacitance output_capacitance{22e-6};
  Resistance output_capacitor_resistance{5e-3};
  Rate crossover_frequency{10e3};
  std::optional<Resistance> divider_resistance;
};

class Boost final : public NetworkModel<Boost, 3, 0> {
 public:
  enum State { store_voltage, rail_current, integral, ramp };

  explicit Boost(const BoostParameters&);
  static std::shared_ptr<const Model> build(const BoostParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void enter_transient(const View&, Writable&, double* booked) const override;
  void rates(const View&, double* dxdt) const override;
  void flows(const View&, double* flow) const override;
  const BoostParameters& parameters() const { return p_; }

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const Currents<T> c = currents(view, z);
    const T own = c.converter_in + c.quiescent + c.start_up, driven = c.divider + c.store - c.converter_out;
    f[0] = own + c.rectifier;
    f[1] = driven - c.rectifier;
    f[2] = -(own + driven);  // without the rectifier's current, which may be far larger than the difference
  }

 private:
  enum Mode { off, locked_out, waiting, starting, on, stressed };
  enum Memory { mode, waits, memory_count };
  static constexpr std::int32_t longest_wait = 13;  // doublings of the retry time
  enum Alarm { retry_alarm, soft_start_alarm };

  /// In ampere; converter_out and rectifier flow out of `out`, all others into `in` or (divider, store) `out`.
  template <class T>
  struct Currents {
    T converter_in{0.0}, converter_out{0.0}, rectifier{0.0}, quiescent{0.0}, start_up{0.0}, divider{0.0}, store{0.0};
  };

  /// What the voltage loop wants to flow out of the converter, and what the current limit leaves it; A.
  template <class T>
  struct Loop {
    T demand{0.0}, room{0.0};
  };

  template <class T>
  Currents<T> currents(const View& view, const T* z) const {
    const T in = z[0] - z[2], out = z[1] - z[2];
    const int now = view.memory[mode];
    Currents<T> c;
    if (now != stressed && (now == on || !p_.output_disconnect)) {
      c.rectifier = passed_on(T(z[0] - z[1]));  // (6)
    }
    if (now == waiting || now == starting || now == on) {
      c.quiescent = soft_sign(in, supply_corner) * p_.quiescent_enabled.si();  // (8)
    } else if (now == off || now == locked_out) {
      c.quiescent = soft_sign(in, supply_corner) * p_.quiescent_disabled.si();  // (8)
    }
    if (p_.divider_resistance) c.divider = out * (1 / p_.divider_resistance->si());  // (9)
    if (view.transient) {
      c.store = (out - view.x[store_voltage]) * (1 / p_.output_capacitor_resistance.si());  // (11)
      if (p_.output_disconnect) c.rectifier = T(0.0);                                       // (16)
      c.converter_out = T(std::max(0.0, view.x[rail_current]));
      c.converter_in = transient_input(in, out, c.converter_out);
    }
    if (now == off || now == locked_out || now == waiting || (view.transient && now != stressed)) return c;
    const T gate = running(in);
    if (value_of(gate) <= 0) return c;
    if (now == on) {
      const Loop<T> loop = settled_loop(in, out, gate);
      c.converter_out = soft_min(loop.demand, loop.room);  // (4)
      if (value_of(out) > 0) {
        c.converter_in = out * c.converter_out / (look_up(p_.efficiency, in, c.converter_out) * in);  // (5)
      }
    } else if (now == starting) {
      c.start_up = soft_min(T(start_up_power(in) / in), T(p_.current_limit.si())) * gate;  // (7)
    } else if (now == stressed) {
      c.converter_in = p_.current_limit.si() * gate;  // (10)
    }
    return c;
  }
  Currents<double> currents(const View& view) const { return currents(view, view.z); }

  template <class T>
  T passed_on(const T& drop) const {
    return soft_ramp(drop - p_.rectifier_drop.si(), rectifier_corner) * (1 / p_.rectifier_resistance.si());  // (6)
  }
  /// 0 where the input is too low to run from, 1 above the lockout.
  template <class T>
  T running(const T& in) const {
    return soft_step(in, p_.lockout.si() / 2, p_.lockout.si());
  }
  template <class T>
  Loop<T> settled_loop(const T& in, const T& out, const T& gate) const {
    const T even = even_output(in);
    return {soft_ramp(set_point(p_.output_voltage.si(), in) - out, regulation_corner) *
                (1 / p_.regulation_resistance.si()),                   // (2)
            even * gate * p_.current_limit.si() / larger(out, even)};  // (3)
  }
  /// While it starts or is on.
  Loop<double> transient_loop(const View& view, double rectifier) const {
    const double in = input(view), out = output(view), gate = running(in);
    if (gate <= 0) return {};
    const double wanted = p_.output_voltage.si() * std::min(1.0, view.x[ramp]);  // (14)
    const double even = even_output(in);
    const double left = soft_ramp(p_.current_limit.si() - rectifier, current_corner);             // (15)
    return {soft_ramp(gain_ * (set_point(wanted, in) - out) + view.x[integral], current_corner),  // (12)
            even * gate * left / larger(out, even)};                                              // (3)
  }
  /// Of the present mode; nothing where no loop runs.
  Loop<double> loop(const View& view, double rectifier) const {
    const int now = view.memory[mode];
    if (view.transient) return now == starting || now == on ? transient_loop(view, rectifier) : Loop<double>{};
    const double in = input(view), gate = running(in);
    return now == on && gate > 0 ? settled_loop(in, output(view), gate) : Loop<double>{};
  }

  /// Uset of (1).
  template <class T>
  T set_point(double wanted, const T& in) const {
    return soft_min(T(wanted), T(in * (1 / (1 - p_.maximum_duty))));
  }
  /// e V of (3).
  template <class T>
  T even_output(const T& in) const {
    return look_up(efficiency_at_limit_, in) * in;
  }
  template <class T>
  static T larger(const T& a, const T& b) {
    using std::sqrt;
    const T apart = a - b;
    return 0.5 * (a + b + sqrt(apart * apart + output_corner * output_corner));
  }
  /// (15), also while the current dies away below the lockout; vanishes with the input.
  template <class T>
  T transient_input(const T& in, const T& out, const T& i) const {
    const double lowest = p_.lockout.si() / 2;
    const T v = value_of(in) > lowest ? in : T(lowest);
    return larger(out, even_output(v)) * i / (look_up(p_.efficiency, v, i) * v) * soft_step(in, 0.0, lowest);
  }

  /// Of (7): constant over the soft start, W.
  template <class T>
  T start_up_power(const T& in) const {
    const double set = p_.output_voltage.si(), c = p_.output_capacitance.si(), time = p_.soft_start.si();
    T missing(set * set);
    if (!p_.output_disconnect) {
      const T before = soft_ramp(in - p_.rectifier_drop.si(), rectifier_corner);
      missing = missing - before * before;
    }
    if (value_of(missing) <= 0) return T(0.0);
    return missing * (c / (2 * time)) / look_up(p_.efficiency, in, T(c * set / time));
  }

  void begin_start(const View&, Writable&) const;
  void soft_start(const View&, Writable&) const;
  void fall_to(Mode, Writable&) const;
  double input(const View& view) const { return view.z[0] - view.z[2]; }
  double output(const View& view) const { return view.z[1] - view.z[2]; }
  double rising_threshold() const { return (p_.lockout + p_.lockout_hysteresis).si(); }

  static constexpr double rectifier_corner = 0.005;  // V, rounding of the rectifier's turn-on
  static constexpr double regulation_corner = 1e-4;  // V, rounding where the regulator's current vanishes
  static constexpr double output_corner = 0.05;      // V, rounding where an overload pulls the output to the input
  static constexpr double supply_corner = 0.3;       // V, below it the own consumption vanishes with the input
  static constexpr double current_corner = 1e-4;     // A, rounding where a current vanishes in a transient

  BoostParameters p_;
  Curve efficiency_at_limit_;                    ///< over the input voltage
  double stored_ = 0;                            ///< C of (11), F
  double gain_ = 0;                              ///< gm of (12), S
  double integral_time_ = 0, current_time_ = 0;  ///< Ti of (13), tc of (12), s
};

}  // namespace overwinter
