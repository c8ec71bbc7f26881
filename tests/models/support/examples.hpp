// Parameter sets like those of the part classes, for tests that build models in code.
#pragma once

#include "models/converters/linear_charger.hpp"
#include "models/loads/load.hpp"
#include "models/paths/resistor.hpp"
#include "models/paths/schottky.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/cell.hpp"

namespace overwinter::test {

inline constexpr Energy electronvolt{1.602176634e-19};

/// A panel sold by its label, upright facing south.
inline PanelParameters label_panel() {
  PanelParameters p;
  p.label_voltage = Voltage{6.0};
  p.label_current = Current{0.1};
  p.cells = 12;
  p.tilt = 90 * units::degree;
  p.azimuth = 180 * units::degree;
  return p;
}

inline PanelParameters datasheet_panel() {
  PanelParameters p;
  p.short_circuit_current = Current{0.36};
  p.open_circuit_voltage = Voltage{7.2};
  p.maximum_power_current = Current{0.33};
  p.maximum_power_voltage = Voltage{6.0};
  p.voltage_coefficient = PerKelvin{-0.0033};
  p.cells = 12;
  p.tilt = 60 * units::degree;
  p.azimuth = 180 * units::degree;
  return p;
}

inline SchottkyParameters power_schottky() {
  SchottkyParameters p;
  p.saturation_current = Current{1.2e-6};
  p.series_resistance = Resistance{0.09};
  p.leakage_current = Current{20e-6};
  p.leakage_voltage = Voltage{20.0};
  return p;
}

inline SchottkyParameters signal_schottky() {
  SchottkyParameters p;
  p.saturation_current = Current{0.05e-6};
  p.ideality = 1.03;
  p.series_resistance = Resistance{1.0};
  p.barrier_height = 0.72 * electronvolt;
  return p;
}

inline LinearChargerParameters charger_100ma() {
  LinearChargerParameters p;
  p.charge_current = Current{0.1};
  p.precharge_current = Current{0.01};
  p.termination_current = Current{0.01};
  p.pass_resistance = Resistance{0.8};
  p.standby_current = Current{30e-6};
  return p;
}

/// Straight resistance curves, cold limits and all: close to the pouch cell's class.
inline CellParameters pouch_cell() {
  const std::vector<double> s{0, 0.05, 0.1, 0.2, 0.5, 1};
  const auto over_charge = [&](std::vector<double> ohms) {
    return Curve(s, std::move(ohms), Interpolation::monotone, Outside::hold);
  };
  CellParameters p;
  p.capacity = Charge{1.2 * 3600};
  p.open_circuit_voltage =
      Curve({0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1},
            {2.5199, 3.1617, 3.3041, 3.4754, 3.5763, 3.6443, 3.7167, 3.8174, 3.9201, 4.0184, 4.0919, 4.1158, 4.1943},
            Interpolation::monotone, Outside::extend);
  p.series_resistance = over_charge({0.3, 0.17, 0.13, 0.11, 0.095, 0.092});
  p.pair_1_resistance = over_charge({0.18, 0.085, 0.06, 0.048, 0.04, 0.038});
  p.pair_2_resistance = over_charge({0.26, 0.12, 0.08, 0.06, 0.048, 0.05});
  p.pair_1_time = Duration{25.0};
  p.pair_2_time = Duration{300.0};
  p.activation_energy = 0.25 * electronvolt;
  p.usable_capacity = Curve({253.15, 263.15, 273.15, 283.15, 293.15, 303.15}, {0.6, 0.76, 0.88, 0.95, 1, 1},
                            Interpolation::monotone, Outside::hold);
  p.self_discharge = Rate{0.03 / 2629746.0};
  p.heat_capacity = HeatCapacity{24.0};
  p.thermal_resistance = ThermalResistance{35.0};
  return p;
}

/// A cell whose resistances and voltage do not depend on anything.
inline CellParameters plain_cell(double capacity_ampere_hours, double r0, double r1, double r2) {
  const auto constant = [](double value) {
    return Curve({0, 1}, {value, value}, Interpolation::monotone, Outside::hold);
  };
  CellParameters p;
  p.capacity = Charge{capacity_ampere_hours * 3600};
  p.open_circuit_voltage = Curve({0, 1}, {3.7, 3.7}, Interpolation::monotone, Outside::extend);
  p.series_resistance = constant(r0);
  p.pair_1_resistance = constant(r1);
  p.pair_2_resistance = constant(r2);
  p.pair_1_time = Duration{20.0};
  p.pair_2_time = Duration{200.0};
  p.activation_energy = Energy{0.0};
  p.usable_capacity = constant(1.0);
  p.self_discharge = Rate{0.0};
  return p;
}

inline LoadParameters current_load(double ampere) {
  LoadParameters p;
  p.kind = LoadKind::current;
  p.current = Current{ampere};
  return p;
}

inline LoadParameters power_load(double watt) {
  LoadParameters p;
  p.kind = LoadKind::power;
  p.power = Power{watt};
  return p;
}

inline LoadParameters resistance_load(double ohm) {
  LoadParameters p;
  p.kind = LoadKind::resistance;
  p.resistance = Resistance{ohm};
  return p;
}

}  // namespace overwinter::test
