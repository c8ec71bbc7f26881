// Capacitor: follows its net while the net is fed, holds the net up while it is not.
//
//   x = voltage that is paid for, b = what it stands above that, u = x + b the store's voltage
//   V = plus against minus, d = tracking band, tc = charging time
//   (1) fed          I = -(u - 2d - V)/R, not below in size 0       none while V stays within the band
//   (2) charging     I = Ic s, Ic = C (V - x)/tc as it begins; s ends it where u meets V
//   (3) on its own   I = (V - u)/R while discharging; while charging smoothly limited to C d/tc
//   (4) Ileak = V/Rleak from the net, or u/Rleak from the store in (3)
//   (5) C dx/dt = I (- Ileak); b stands, but while what it took is paid for: db/dt = -Ic/C
//   (6) E = C x^2/2                                                 energy of a capacitor: textbook
//
// R is the equivalent series resistance. Definition of a capacitor with series and leakage resistance: common practice;
// Rleak may be given as the insulation time Rleak C that datasheets print as ohm farad.
//
// Fed, the capacitor's real current is a matter of microseconds and of no interest to a year: it takes none, and u
// stays until V has left the band. Upwards, where the feed bears Ic, u follows at once, as a real one does, and the
// charge C (V - x) is paid for afterwards: drawn through the network evenly over the charging time instead of as a
// spike (1/2 C (V - x)^2 of it turns into heat in whatever resistance there is: textbook). What the feed's loss leaves
// unpaid is drawn with the next charge; a store that has given eight whole charges on credit does not follow at once
// again before it has paid. If the feed cannot give that current, which shows as V falling to u, half of
// what it gives there is drawn, again and again until u is where V leads; a feed weaker than half of C d/tc charges the
// idle capacitor. Downwards it is on its own and integrated as it is. When it gives next to nothing any more the net is
// either fed or at rest: it is settled, as if fed; should the net fall without it, it was at rest, and idle until more
// is drawn, or it is as good as empty, or its contact with a feed holds the integration up. A feed that breaks down
// under its charging, so that the net falls below it, is starved: it gives what is drawn, and asks for nothing for a
// quarter of the charging time.
//
// In all regimes charging is limited, so that the network solve after a feed's return does not see a short circuit of
// R: other parts' guards would act on a transient of a microsecond. How deep that transient is is judged by the worst
// case of a switch-on and by the zoom, not by this law. In the same way a net that loses its feed falls no further than
// 2 d below u in the round in which it does.
//
// In a transient (View::transient) there are no regimes: it is on its own, and nothing limits its charging,
//   (7) I = (V - u)/R, C dx/dt = I - u/Rleak
//   (8) x = V - R I - b at its begin, I the current into it of the settled network: none flows that the settled network
//       does not know of. b, what is owed, stands, and what x has moved (by the tracking band at most) is booked: as
//       stored, and against the series resistance
//
// Of several capacitors on the same two nets the largest carries the others while the run is settled: its C in (2) to
// (6) is the sum of all, for they share every charge within R C, microseconds. The others draw (4) alone then, and
// stand where the net is. In a transient each is itself, and the energy of all stays on the books of the largest:
//   (9) dx/dt and (7) with its own C, E and what is stored with the sum
// So little as 0.4 uF in all, 2 uC at 5 V, holds nothing up for longer than microseconds: it draws (4) alone while the
// run is settled, and 10 uJ a switch-on are left out.
//
// R C <= tc: a weaker feed than half of C d/tc charges through R, and the net may not leave the band meanwhile.
// C/tc <= 0.1 A/V, so that the charging current is one that the network can bear: a farad takes its time.
#pragma once

#include <algorithm>
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
  /// One of several in parallel. `carries`: what the others have that it carries; below zero it is carried itself.
  Capacitor(const CapacitorParameters&, Capacitance carries);
  std::shared_ptr<const Model> in_parallel(const std::vector<const Model*>& all, std::size_t self) const override;
  static std::shared_ptr<const Model> build(const CapacitorParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const CapacitorParameters& parameters() const { return p_; }
  void start(const Ambient&, Writable&) const override;
  void enter_transient(const View&, Writable&, double* booked) const override;
  void leave_transient(const View&, Writable&) const override;
  void rates(const View&, double* dxdt) const override;
  void decay(const View&, double* rate) const override;
  void flows(const View&, double* flow) const override;
  double stored_energy(const View&) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T v = z[0] - z[1];
    f[0] = into_store(view, v);
    if (!on_its_own(view)) f[0] = f[0] + v * leakage_;  // (4)
    f[1] = -f[0];
  }

 private:
  enum Regime { fed, charging, charging_weakly, discharging, settled, idle, paying, starved };
  enum Alarm { charging_over, tries_again };
  enum State { voltage, charging_current, target, begun, lead };

  /// Another one carries its charge.
  bool settles_elsewhere(const View& view) const { return carried_ && !view.transient; }
  static bool on_its_own(const View& view) {
    return view.transient || view.memory[0] == discharging || view.memory[0] == idle || view.memory[0] == starved;
  }
  static bool charges(const View& view) { return view.memory[0] == charging || view.memory[0] == charging_weakly; }

  /// u: what a meter would read without the series resistance, V.
  static double store(const View& view) { return view.x[voltage] + view.x[lead]; }
  double across(const View& view) const { return view.z[0] - view.z[1]; }
  double band() const { return p_.tracking_band.si(); }
  /// Settled below this it is not called upon by a net at zero, V.
  double empty() const { return 0.9 * band(); }
  double meeting() const { return band() / 20; }
  double weak_current() const { return sum_ * band() / charging_time_; }
  /// Giving less than this may be no more than the drift of a fed net, A. Not below what the integration's tolerance
  /// leaves of a store in contact with a stiff net.
  double quiet() const { return std::max(weak_current() / 20, contact / p_.series_resistance.si()); }

  /// What keeps a net up that is losing its feed, A.
  template <class T>
  T held(double u, const T& v) const {
    return soft_ramp(u - 2 * band() - v, corner) * (1 / p_.series_resistance.si());  // (1)
  }
  /// Without leakage, A.
  template <class T>
  T into_store(const View& view, const T& v) const {
    using std::sqrt;
    const double u = store(view), conductance = 1 / p_.series_resistance.si();
    if (view.transient) return (v - u) * conductance;  // (7)
    if (carried_) return T(0.0);
    switch (view.memory[0]) {
      case starved:
      case discharging:
      case idle: {
        const T i = (v - u) * conductance;
        if (value_of(i) <= 0) return i;
        if (view.memory[0] == starved) return T(0.0);
        const T share = i * (1 / (weak_current() + std::max(0.0, u) * leakage_));
        return i / sqrt(1.0 + share * share);  // (3)
      }
      case charging:
      case charging_weakly: {
        const double i = view.x[charging_current];
        return i * soft_step(v - u, 0, meeting()) - held(u, v);  // (2)
      }
      case paying:
        return view.x[charging_current] * soft_step(v - u, -band(), meeting() - band()) - held(u, v);  // (2)
      default:
        return -held(u, v);
    }
  }
  void leave(Regime to, Writable&) const;
  void rest(const View&, Writable&) const;
  void starve(const View&, Writable&) const;
  void charge(Regime, double ampere, double rise, double target_voltage, const View&, Writable&) const;

  static constexpr double corner = 1e-4;   // V, rounding where it begins to hold
  static constexpr double contact = 5e-5;  // V

  CapacitorParameters p_;
  double leakage_ = 0;  ///< S
  bool carried_ = false;
  double sum_ = 0;            ///< F, with what it carries
  double charging_time_ = 0;  ///< s, longer where the sum needs it
};

}  // namespace overwinter
