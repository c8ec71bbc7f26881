// One lithium cell: charge as the state, open-circuit voltage, a series resistance and two RC pairs.
//
//   s = q / Q, charge q in coulomb, Q the rated capacity; current I positive when charging
//   (1) V = U(s, T) + v1 + v2 + R0 I             Chen & Rincon-Mora 2006, IEEE Trans. Energy Convers. 21(2), 504-511
//   (2) dvk/dt = (Rk I - vk) / tau_k             same, each pair's time constant held while its resistance varies
//   (3) dq/dt = I - w Isd
//   (4) Rk(s, T) = Rk(su) exp(Ek/k (1/T - 1/T25))  Arrhenius, each with an energy of its own; R over charge as a curve
//                                                at 25 degC
//   (5) su = max(0, (s - f) / (1 - f)), f(T) = 1 - usable(T)
//                                                cold makes the last part of the charge unreachable by raising the
//                                                resistance there; it destroys no charge (class assumption)
//   (6) Isd = Q ksd 2^((T - 25 degC)/10 K)       self-discharge; doubling per 10 K: common practice
//   (7) Cth dT/dt = R0 I^2 + v1^2/R1 + v2^2/R2 + w c T I - (T - Tair)/Rth     lumped temperature; w c T I is the
//                                                reversible heat of Bernardi, Pawlikowski & Newman 1985, J.
//                                                Electrochem. Soc. 132(1), 5-12 (from memory)
//  (10) U(s, T) = w (OCV(s) + c (T - T25)), c = dU/dT of the full curve's charge; none given: 0
//  (11) w = 1 from empty up. Below it U falls to nothing within the remainder r of the charge:
//       w = p^2 (a - b p), p = max(0, 1 + s/r), a = 3 - g, b = 2 - g, g = min(3, r OCV'(0)/OCV(0)),
//       OCV and c there as at s = 0; g makes the slope that of the curve, at p = 0 it is 0
//       r = 2 %: class assumption. That little is left between 2.5 V and 0 V at a low rate, and a cell that is forced
//       further dissolves copper and shorts itself (Guo et al. 2016, Sci. Rep. 6, 30248: a plateau at -12 %, a short
//       beyond it). So a dead cell gives nothing: no voltage, and nothing left to discharge by itself.
// (4) and (6) stay at 80 degC above it (class assumption): a cell that a fault shorts is lost by then, and its laws
// with it. Energy, counted from the dead cell: that of the reaction at constant pressure, for the reversible heat comes
// from outside,
//   (8) E = Q integral(U - w c T ds) + sum 1/2 Ck vk^2, Ck = tau_k/Rk; U - w c T = w (OCV - c T25) knows no temperature
// As Rk varies, a pair's energy changes by 1/2 vk^2 dCk/dt, booked as parameter drift.
// A cell that ages at once keeps its state of charge s, and with it OCV: the charge in the capacity that is lost is
// lost with it (class assumption), q becomes s Q. The change of E is booked as parameter drift too:
//   (9) dE = (Q' - Q) integral(U - w c T ds) + sum 1/2 vk^2 (Ck' - Ck)
//
// Limits beyond which it is damaged (common practice; the tolerances are class assumptions)
//   below empty           s < -0.1 %: what is drawn beyond empty dissolves the negative electrode's copper
//   charged above limit   the terminals above `charge_limit` by more than 50 mV: datasheets of 4.2 V cells write
//                         4.20 V +- 0.05 V. Where no limit is given, s > 102 %, beyond what a curve's own inaccuracy
//                         excuses
//   charged too cold      a charging current above Q/1000 h, more than 0.5 K below `charge_temperature_minimum`, and
//                         one that lasts: v1/R1 is above it too. An idle charger leaks microamperes and a charge ends
//                         at Q/50 h to Q/10 h, so that Q/1000 h lies far from both; a charger's own sensor is no better
//                         than 0.5 K; what flows back out of a capacitor for milliseconds plates nothing
//   too hot               above 90 degC; decomposition begins at 80 to 120 degC: from memory
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"
#include "models/thermal.hpp"

namespace overwinter {

struct CellParameters {
  Charge capacity{};
  std::optional<Voltage> charge_limit;
  Temperature charge_temperature_minimum = celsius(0);
  double charge = 0.5;
  Curve open_circuit_voltage;
  Curve series_resistance, pair_1_resistance, pair_2_resistance;
  Duration pair_1_time{}, pair_2_time{};
  Energy activation_energy{0.207 * 1.602176634e-19};
  std::optional<Energy> series_activation_energy, pair_1_activation_energy, pair_2_activation_energy;
  Curve temperature_coefficient;  ///< V/K over the charge; empty: none
  Curve usable_capacity;
  Rate self_discharge{0.02 / 2629743.83};
  HeatCapacity heat_capacity{45.0};
  ThermalResistance thermal_resistance{20.0};
};

class Cell final : public NetworkModel<Cell, 2, 0> {
 public:
  enum State { charge, pair_1, pair_2, temperature, state_count };
  enum Flows {
    charge_energy_flow,
    pair_energy_flow,
    series_flow,
    pairs_flow,
    self_discharge_flow,
    drift_flow,
    reversible_flow,
    charge_in_flow,
    charge_out_flow,
    throughput_flow
  };
  enum Held { held_inner_voltage, held_series_resistance, held_count };

  explicit Cell(const CellParameters&);
  static std::shared_ptr<const Model> build(const CellParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void drive(const Ambient& ambient, double* drive) const override { drive[0] = ambient.air.si(); }
  void start(const Ambient&, Writable&) const override;
  void take_over(const Model& former, const View&, Writable&, double* booked) const override;
  void hold(const View&, double* held) const override;
  void guess(const View&, double* z) const override;
  void rates(const View&, double* dxdt) const override;
  void decay(const View&, double* rate) const override;
  void flows(const View&, double* flow) const override;
  double stored_energy(const View& view) const override { return chemical_energy(view) + pair_energy(view); }

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const CurrentOf<T> i = current(view, VoltageOf<T>{z[0] - z[1]});
    f[0] = i.si();
    f[1] = -i.si();
  }

  /// Resistances at the state's charge and temperature, (4) and (5).
  struct Resistances {
    Resistance series, pair_1, pair_2;
  };
  Resistances resistances(const View&) const;
  const CellParameters& parameters() const { return p_; }

 private:
  template <class T>
  CurrentOf<T> current(const View& view, const VoltageOf<T>& v) const {
    return (v - Voltage{view.held[held_inner_voltage]}) / Resistance{view.held[held_series_resistance]};  // (1)
  }
  Current current(const View& view) const { return current(view, Voltage{view.z[0] - view.z[1]}); }
  double state_of_charge(const View& view) const { return (Charge{view.x[charge]} / p_.capacity); }
  Voltage open_circuit(const View&) const;
  Voltage inner_voltage(const View&) const;
  Resistance series_resistance(const View&) const;
  double unreachable(const View&) const;
  static Temperature known_temperature(const View&);  ///< for (4) and (6)
  double usable_charge(const View&) const;
  double left_below_empty(double s) const;         ///< w
  double temperature_coefficient(double s) const;  ///< w c, V/K
  double reaction_voltage(double s) const;         ///< w (OCV - c T25), V
  Current self_discharge(const View&) const;       ///< w Isd
  Power reversible_heat(const View&) const;
  Power heat(const View&, const Resistances&) const;
  double charged_above_limit(const View&) const;  ///< V, >= 0 beyond it
  double charged_too_cold(const View&) const;     ///< K, >= 0 beyond it
  void rates(const View&, const Resistances&, double* dxdt) const;
  double chemical_energy(const View&) const;
  double pair_energy(const View&) const;
  static void age(CellParameters&, const FaultValues&);

  CellParameters p_;
  Energy series_energy_, pair_1_energy_, pair_2_energy_;  // of (4)
  double knee_ = 0;                                       // g of (11)
};

}  // namespace overwinter
