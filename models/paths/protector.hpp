// Protection circuit of one lithium cell: two opposed MOSFETs in series that part the cell from everything else.
//
//   V = Vcell - Vpack, I the current from cell to pack (discharge positive), D the body-diode law (body_diode.hpp)
//   (1) closed: I = V / R
//   (2) discharge transistor off (over-discharge or over-current): I = -D(-V) + G V    its diode passes charging
//   (3) charge transistor off (over-charge):                       I = D(V) + G V      its diode passes discharging
//   (4) both off: I = G V
//   (5) G = Ioff / Voff, and 1 / Rrelease more after an over-current trip
//   (6) Iown = Ic Vcell / sqrt(Vcell^2 + (0.3 V)^2)   from cell to ground; Ic drops after an over-discharge trip, and
//                                                     all of it vanishes with the cell voltage (class assumption)
//   (7) the diode's slope takes in R: the transistor that is still on and the traces are in series with it
//
// Real protectors mostly sit in the cell's negative lead. Here the same element sits in the positive lead, between the
// pins cell and pack; ground only returns its own consumption. Seen from a two-terminal load or charger it is the same.
//
// What is watched, each with its delay, after the usual functions of one-cell protection circuits (common practice):
//   over-discharge   Vcell <= threshold; released either by voltage alone (Vcell >= release voltage), or only while a
//                    charger is seen (Vpack - Vcell >= detection voltage, which takes current through the diode of (2))
//                    and the cell is above a bound
//   over-charge      Vcell >= threshold; released at Vcell <= release voltage. That a load's drop over the diode of (3)
//                    releases some real parts earlier is left out
//   over-current     I >= threshold; Rrelease then bypasses the switch, and once it has pulled the pack up to the cell
//                    (V <= release voltage across the switch) for the retry time, the load counts as removed. A load
//                    that keeps drawing more than release voltage / Rrelease keeps the switch open; a charger closes it
// There is no separate short-circuit threshold: with its delay of under a millisecond it differs from over-current only
// inside fast transients.
//
// A delay runs as an alarm; it is dropped where the condition goes away by more than the comparators' hysteresis.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "models/model.hpp"
#include "models/paths/body_diode.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"

namespace overwinter {

enum class DischargeRelease { voltage, charge };

struct ProtectorParameters {
  Resistance resistance{};
  Voltage diode_voltage{0.75};
  Resistance diode_resistance{0.05};
  Current off_leakage{1e-6};
  Voltage off_leakage_voltage{20.0};
  Current consumption{4e-6};
  Current tripped_consumption{0.1e-6};
  Voltage overdischarge_voltage{2.5};
  Duration overdischarge_delay{0.1};
  DischargeRelease release = DischargeRelease::voltage;
  Voltage overdischarge_release{3.0};
  std::optional<Voltage> charging_release;
  Voltage charger_detection{0.3};
  Duration overdischarge_release_delay{0.002};
  Voltage overcharge_voltage{4.28};
  Duration overcharge_delay{1.0};
  Voltage overcharge_release{4.08};
  Duration overcharge_release_delay{0.05};
  Current overcurrent{};
  Duration overcurrent_delay{0.01};
  Voltage overcurrent_release{0.15};
  Resistance release_resistance{50e3};
  Duration overcurrent_retry{0.005};
};

class Protector final : public NetworkModel<Protector, 3, 0> {
 public:
  explicit Protector(const ProtectorParameters&);
  static std::shared_ptr<const Model> build(const ProtectorParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const ProtectorParameters& parameters() const { return p_; }
  void start(const Ambient&, Writable&) const override;
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const Branches<T> b = branches(view, z[0] - z[1]);
    const T through = b.closed + b.diode + b.bypass, own = consumption(view, z[0] - z[2]);
    f[0] = through + own;
    f[1] = -through;
    f[2] = -own;
  }

 private:
  enum Memory { discharge, charge, voltage_wait, charge_wait, current_wait, memory_count };
  enum Discharge { feeding, over_discharge, over_current };
  enum Charge { accepting, over_charge };
  /// The watched conditions. Each has an alarm, in this order behind the guards: where several are due at once, a trip
  /// or release stands against its being dropped, and the over-discharge trip against everything else.
  enum Watch {
    charge_trip,
    charge_release,
    current_trip,
    current_release,
    discharge_release,
    discharge_trip,
    watch_count
  };
  enum Label { all_closed, after_over_discharge, after_over_charge, after_over_current, both_off };

  /// The parallel branches of (1) to (4), A.
  template <class T>
  struct Branches {
    T closed, diode, bypass;
  };

  template <class T>
  Branches<T> branches(const View& view, const T& v) const {
    const bool feeds = view.memory[discharge] == feeding, accepts = view.memory[charge] == accepting;
    if (feeds && accepts) return {v * (1.0 / p_.resistance.si()), T(0.0), T(0.0)};  // (1)
    Branches<T> b{T(0.0), T(0.0), v * bypass(view)};                                // (4)
    if (accepts) b.diode = -diode_(-v);                                             // (2)
    if (feeds) b.diode = diode_(v);                                                 // (3)
    return b;
  }
  Branches<double> branches(const View& view) const { return branches(view, across(view)); }

  double bypass(const View& view) const {
    return view.memory[discharge] == over_current ? off_conductance_ + release_conductance_ : off_conductance_;  // (5)
  }

  template <class T>
  T consumption(const View& view, const T& cell) const {
    const Current drawn = view.memory[discharge] == over_discharge ? p_.tripped_consumption : p_.consumption;
    return drawn.si() * soft_sign(cell, supply_corner);  // (6)
  }

  static double across(const View& view) { return view.z[0] - view.z[1]; }
  static double cell_voltage(const View& view) { return view.z[0] - view.z[2]; }
  double current(const View& view) const {
    const Branches<double> b = branches(view);
    return b.closed + b.diode + b.bypass;
  }
  Label label(const View&) const;

  /// How far the condition is fulfilled: V, for current_trip A.
  double excess(Watch, const View&) const;
  double charger_seen(const View&) const;
  /// Whether the latches are such that the condition is looked at.
  static bool in_force(Watch, const View&);
  Duration delay(Watch) const;
  double hysteresis(Watch) const;
  static constexpr Memory wait_of(Watch w) {
    return w <= charge_release ? charge_wait : w <= current_release ? current_wait : voltage_wait;
  }
  template <Watch W, class Table>
  static void watch(Table&, const std::string& name, const std::string& seen, const std::string& passed);

  static constexpr double comparator = 0.001;         // V, hysteresis of the voltage comparators: class assumption
  static constexpr double current_comparator = 0.01;  // of the over-current threshold: class assumption
  static constexpr double supply_corner = 0.3;        // V, below it the own consumption vanishes with the cell

  ProtectorParameters p_;
  BodyDiode diode_;
  double off_conductance_, release_conductance_;
};

}  // namespace overwinter
