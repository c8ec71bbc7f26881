// Microcontroller of the instrument: wakes with its supply, boots, runs its phases, asks the wake policy, sets the
// clock's next alarm and clears the flag, which usually cuts its own supply.
//
//   (1) I = demanded(phase) (models/loads/demand.hpp): current or power by what it does, resistive below its supply
//       range
//   (2) off: I = V / Roff
//   (3) in a transient (View::transient) also Ip = (V - x)/Rp, Cp dx/dt = Ip     die and pin, a capacitor: textbook
//
// Power-on reset and brown-out (common practice for small microcontrollers): a power-on reset works only after the
// supply has fallen below `reset_rearm`. With a brown-out detector a supply below the threshold holds the controller in
// reset. When the supply has risen past threshold plus hysteresis, and has stayed above the threshold for the power-on
// delay, it boots: a supply that a switch is still turning on carries no load yet. Without one, a supply below the
// supply range leaves it hung: neither in reset nor running, still drawing, until the supply has fallen below
// `reset_rearm`.
//
// When the next alarm is to come: the policy's interval after the alarm is written, at the wake's end; or, where the
// firmware reads the clock at the reading of the voltage or as it wakes, so long after that. An interval that has
// passed by the time of the write makes an alarm in the past.
//
// Faults: retries make a phase last longer, whatever it is repeated for; a hung firmware stays in a phase, drawing,
// until the supply goes or the fault is over, which ends as a watchdog would, in a reset. A phase that has begun keeps
// its end.
//
// What it keeps between wakes (the row of the policy's table) is taken to survive the loss of its supply, as in a
// clock's backed-up memory.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "models/loads/demand.hpp"
#include "models/model.hpp"
#include "models/policy.hpp"
#include "models/table.hpp"

namespace overwinter {

struct ControllerPhase {
  std::string name;
  Duration duration{};
  std::optional<Current> current;
  std::optional<Power> power;
  bool out_1 = false, out_2 = false, out_3 = false, out_4 = false;
  bool high(int output) const { return output == 0 ? out_1 : output == 1 ? out_2 : output == 2 ? out_3 : out_4; }
};

/// The instant at which the firmware reads the clock for the next alarm.
enum class CountsFrom { write, reading, wake };

struct ControllerParameters {
  Voltage minimum_supply{};
  Voltage maximum_supply{};
  Voltage brownout_threshold{};
  Voltage brownout_hysteresis{0.1};
  bool brownout_detector = true;
  Voltage reset_rearm{0.7};
  Resistance off_resistance{1e6};
  Current reset_current{100e-6};
  Duration reset_time{0.01};
  Duration power_on_delay{2e-3};
  Capacitance pin_capacitance{100e-12};
  Duration boot_time{};
  Current boot_current{};
  Current idle_current{};
  std::vector<ControllerPhase> phases;
  std::string reads_in;
  bool clears_flag = true;
  CountsFrom counts_from = CountsFrom::write;
  std::shared_ptr<const Policy> policy;
  std::vector<std::string> hangs_in;  ///< by a fault: phases that do not end; an empty name is any
};

class Controller final : public NetworkModel<Controller, 2, 0> {
 public:
  enum Mode { off, reset, booting, running, idle, hung, reset_timer, off_timer, power_on, mode_count };
  enum Memory { mode, phase, wakes, policy_row, writes, interval, dips, memory_count };
  static constexpr std::int32_t longest_dip = 14;  // doublings of the reset time
  enum Alarm { phase_alarm, end_alarm, boot_alarm, timer_alarm };
  static constexpr int outputs = 4;

  explicit Controller(const ControllerParameters& p);
  static std::shared_ptr<const Model> build(const ControllerParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void take_over(const Model& former, const View&, Writable&, double* booked) const override;
  bool can_be_in(const std::int32_t* memory) const override;
  void enter_transient(const View&, Writable&, double* booked) const override;
  void rates(const View&, double* dxdt) const override;
  void flows(const View&, double* flow) const override;
  const ControllerParameters& parameters() const { return p_; }
  /// How long before the write the policy's interval begins to count; it is part of every wake that comes so far.
  Duration counted_before_write() const;
  /// Names of the phases in which the logic output of this name is high.
  std::vector<std::string> phases_driving(const std::string& output) const;

  /// Pins: supply, ground.
  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T v = z[0] - z[1];
    T i = current(view, v);
    if (view.transient) i = i + into_pin(view, v);
    f[0] = i;
    f[1] = -i;
  }

 private:
  /// Which demand holds: those of the modes, then those of the phases.
  std::size_t slot(const View& view) const {
    return view.memory[mode] == running ? static_cast<std::size_t>(mode_count + view.memory[phase])
                                        : static_cast<std::size_t>(view.memory[mode]);
  }
  template <class T>
  T current(const View& view, const T& v) const {
    return demanded(demand_[slot(view)], v, p_.minimum_supply.si());  // (1), (2)
  }
  template <class T>
  T into_pin(const View& view, const T& v) const {
    return (v - view.x[pin_voltage]) * (1 / pin_resistance);  // (3)
  }
  double supply(const View& view) const { return view.z[0] - view.z[1]; }
  double runs_above() const;
  double output(const View&, int which) const;
  void start_up(Writable&) const;
  void stop(Mode, const View&, Writable&) const;
  void timer_over(const View&, Writable&) const;
  void begin_phase(std::int32_t index, const View&, Writable&) const;
  void complete(const View&, Writable&) const;
  bool hangs(std::int32_t index) const;

  enum State { pin_voltage };
  static constexpr double pin_resistance = 1;  // ohm, Rp: bond and pin; with Cp far below what a transient resolves

  ControllerParameters p_;
  std::vector<Demand> demand_;
  std::int32_t reading_phase_ = 0;
  double elapsed_ = 0;  ///< s
};

}  // namespace overwinter
