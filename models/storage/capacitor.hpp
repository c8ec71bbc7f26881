// Capacitor: follows its net while the net is fed, holds the net up while it is not.
//
//   x = voltage of the store, V = plus against minus, d = tracking band
//   (1) Igive = (x - b - V) / Resr, not below 0        b = 0 while discharging or idle, 4 d otherwise; rounded over 0.1
//   mV (2) Itake = Ic s, Ic = C (V - x) / tc as the charging begins; 0 unless charging. s ends it where x meets V (3)
//   Ileak = V / Rleak from the net, or x / Rleak from the store while discharging or idle (4) I = Itake - Igive (+
//   Ileak)                    into plus (5) C dx/dt = Itake - Igive (- Ileak) (6) E = C x^2 / 2 energy of a capacitor:
//   textbook
//
// Equations: definition of the capacitor with series and leakage resistance (common practice). Rleak may be given as
// the insulation time Rleak C that datasheets print as ohm farad.
//
// Fed, the capacitor's real current is a matter of microseconds and of no interest to a year: it takes none, and x
// stays until V has moved by the tracking band. Then the charge C (V - x) is drawn through the network evenly over the
// charging time instead of as a spike; half of a full charge's energy turns into heat in whatever resistance there is
// (textbook). A fall of up to 4 d gives charge back the same way; after it the capacitor watches for a charging time
// whether the net really stands (settling).
//
// A net that loses its feed falls no further than 4 d below x (1): the guards of other parts, which look at that same
// instant, see the voltage the capacitor holds. Then it discharges through its series resistance.
//
// A feed too weak for that current shows in the next round: V falls to x. Then it takes half of what the feed gives
// there, as a constant current again, until x has risen to V; the next charge covers half of what is left, and so on.
//
// Discharging it gives and never takes. When the feed comes back, the network solve of that event round must not see a
// short circuit of Resr in its place: other parts' guards would act on a transient of a microsecond. How deep that
// transient is is judged by the worst case of a switch-on and by the zoom, not by this law.
//
// Sound where C times the net's voltage over the charging time is a current that the feed can give, and where the
// energy C V d per event does not matter: not for supercapacitors.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"

namespace overwinter {

struct CapacitorParameters {
  Capacitance capacitance{};
  Resistance series_resistance{};
  std::optional<Resistance> leakage_resistance;
  std::optional<Duration> insulation_time;
  Voltage tracking_band{0.02};
  Duration charging_time{0.1};
};

class Capacitor final : public NetworkModel<Capacitor, 2, 0> {
 public:
  explicit Capacitor(const CapacitorParameters&);
  static std::shared_ptr<const Model> build(const CapacitorParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void rates(const View&, double* dxdt) const override;
  void flows(const View&, double* flow) const override;
  double stored_energy(const View&) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T v = z[0] - z[1];
    f[0] = into_store(view, v);
    if (!unfed(view)) f[0] = f[0] + v * leakage_;  // (3), (4)
    f[1] = -f[0];
  }

 private:
  enum Regime { fed, charging, settling, discharging, idle };
  enum State { voltage, charging_current, target };

  static bool unfed(const View& view) { return view.memory[0] == discharging || view.memory[0] == idle; }
  double across(const View& view) const { return view.z[0] - view.z[1]; }
  double band() const { return p_.tracking_band.si(); }
  double reach() const { return 4 * band(); }
  double meeting() const { return band() / 20; }

  template <class T>
  T given(const View& view, const T& v) const {
    const double held = view.x[voltage] - (unfed(view) ? 0 : reach());
    return soft_ramp(held - v, corner) * (1 / p_.series_resistance.si());  // (1)
  }
  /// Itake - Igive, without leakage, A.
  template <class T>
  T into_store(const View& view, const T& v) const {
    const T out = given(view, v);
    if (view.memory[0] != charging) return -out;
    const double x = view.x[voltage], i = view.x[charging_current];
    return i * soft_step(i > 0 ? v - x : x - v, 0, meeting()) - out;  // (2)
  }
  void charge(const View&, Writable&) const;

  static constexpr double corner = 1e-4;  // V, rounding where the discharge begins
  static constexpr double quiet = 20e-9;  // A, less is no discharge

  CapacitorParameters p_;
  double leakage_ = 0;  ///< S
};

}  // namespace overwinter
