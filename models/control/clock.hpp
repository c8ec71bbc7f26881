// Real-time clock with one alarm and an open-drain interrupt line, kept alive by a backup coin cell.
//
//   (1) a second of the clock lasts 1 / (1 + d) true seconds, d = drift - k (T - T0)^2
//                                       tuning-fork crystal: parabola about its turnover temperature, common practice
//   (2) from the supply I = p Is, from the coin cell (1 - p) Ib; p goes from 0 to 1 over the last 0.1 V below the
//       switch-over voltage             supply switch-over: common practice
//   (3) dq/dt = -(1 - p) Ib - r q       coin cell: self-discharge as a share of what is left
//   (4) interrupt: I = V / Ron while it pulls, I = V Gleak while it does not
//
// What it does (common practice for calendar clocks on a register bus): the alarm comes due and sets the flag; while
// the flag is set the interrupt pulls its line down; writing a new alarm also clears the flag unless the firmware
// leaves it. Without supply and coin cell the clock stops, forgets flag and alarm and pulls no longer; when power
// returns it counts again, but no alarm is set. The alarm is in whole seconds after the write, or after an earlier
// instant that the controller names; when it comes is a matter of the registers that are compared (alarm_match.hpp).
// That a match comes again while the flag is set changes nothing.
//
// Faults: an oscillator that stands holds every alarm back by as long as it stands. A coin cell that is lost keeps its
// charge, of which the clock has nothing.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/bus.hpp"
#include "models/control/alarm_match.hpp"
#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"

namespace overwinter {

enum class StuckInterrupt { free, low, high };

struct ClockParameters {
  Current supply_current{2e-6};
  Voltage switch_over{2.2};
  std::optional<Charge> backup_capacity;
  double backup_charge = 1.0;
  Voltage backup_voltage{3.0};
  Current backup_current{1e-6};
  Rate backup_self_discharge{0.01 / 31556925.97};
  double drift = 0;
  PerKelvinSquared drift_curvature{0.035e-6};
  Temperature turnover = celsius(25);
  Duration first_alarm{1.0};
  AlarmMatch alarm_match = AlarmMatch::year;
  Resistance interrupt_resistance{50.0};
  Current interrupt_leakage{0.1e-6};
  // By a fault:
  StuckInterrupt stuck = StuckInterrupt::free;  ///< low: pulls all the time; high: never
  Tick stands_until = 0;                        ///< the oscillator stands before that time, UTC; `never` for good
  bool backup_lost = false;
};

class Clock final : public NetworkModel<Clock, 3, 0> {
 public:
  enum State { backup, state_count };
  enum Memory { flag, seen_writes, stopped, backup_empty, late_by, early_by, news, memory_count };
  enum News { nothing, past, early };

  explicit Clock(const ClockParameters&);
  static std::shared_ptr<const Model> build(const ClockParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void drive(const Ambient& ambient, double* drive) const override { drive[0] = ambient.air.si(); }
  void start(const Ambient&, Writable&) const override;
  void take_over(const Model& former, const View&, Writable&, double* booked) const override;
  void guess(const View&, double* z) const override;
  void rates(const View&, double* dxdt) const override;
  void flows(const View&, double* flow) const override;
  double stored_energy(const View& view) const override { return p_.backup_voltage.si() * view.x[backup]; }

  /// Pins: supply, ground, interrupt.
  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T supply = supply_current(z[0] - z[1]);
    const T pulled = interrupt_conductance(view) * (z[2] - z[1]);  // (4)
    f[0] = supply;
    f[1] = -(supply + pulled);
    f[2] = pulled;
  }

  /// d of (1) at an air temperature.
  double deviation(Temperature air) const;
  const ClockParameters& parameters() const { return p_; }

 private:
  static constexpr double switch_over_window = 0.1;  // V
  static constexpr double leakage_voltage = 5.0;     // V, at which interrupt_leakage is given

  template <class T>
  T supplied(const T& v) const {
    return soft_step(v, p_.switch_over.si() - switch_over_window, p_.switch_over.si());
  }
  template <class T>
  T supply_current(const T& v) const {
    return supplied(v) * p_.supply_current.si();  // (2)
  }
  double interrupt_conductance(const View&) const;
  double backup_load(const View&) const;
  double backup_leakage(const View&) const;
  void set_alarm(const Bus&, const View&, Writable&) const;
  Tick alarm_after(double seconds, const View&, Tick now) const;

  ClockParameters p_;
  double interrupt_[2];  ///< conductance of the interrupt output with the flag clear and set, S
};

}  // namespace overwinter
