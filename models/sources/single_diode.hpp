// The single-diode equation of a photovoltaic module, its five parameters from datasheet values, and their translation
// to other light and temperature.
//
//   (1) I = IL - I0 (exp((V + I Rs)/a) - 1) - (V + I Rs)/Rsh
//   (2) a = aref T/Tref
//   (3) IL = G/Gref (ILref + muI (T - Tref))
//   (4) I0 = I0ref (T/Tref)^3 exp(Eg,ref/(k Tref) - Eg/(k T)),  Eg = Eg,ref (1 - 0.0002677 (T - Tref))
//   (5) Rsh = Rsh,ref Gref/G
//   (6) at short circuit, open circuit and the maximum power point the curve passes through the datasheet's values, the
//       power is stationary at the latter, and the open-circuit voltage 10 K warmer is what its temperature coefficient
//       says: five equations for IL, I0, Rs, Rsh, a
// De Soto, Klein & Beckman 2006, Solar Energy 80(1), 78-88: (1) eq. 1, (2) eq. 8, (3) eq. 9 without the air-mass
// modifier, (4) eqs. 10 and 11 with Eg,ref = 1.121 eV for silicon, (5) eq. 12, (6) section 3.
#pragma once

#include <optional>
#include <string>

#include "models/units.hpp"

namespace overwinter {

/// Reference conditions: 1000 W/m2, 25 degC.
inline constexpr Irradiance reference_irradiance{1000.0};

/// The five parameters at one state of light and temperature.
struct SingleDiode {
  Current light;       ///< IL
  Current saturation;  ///< I0
  Voltage slope;       ///< a, the modified ideality: cells in series times n k T / q
  Resistance series;   ///< Rs
  Conductance shunt;   ///< 1/Rsh

  /// Terminal current at the junction voltage Vj = V + I Rs, from (1).
  Current at_junction(Voltage junction) const;
  Voltage open_circuit_voltage() const;
  Current short_circuit_current() const;
  struct Point {
    Voltage voltage;
    Current current;
    Power power;
  };
  Point maximum_power() const;
};

struct PanelDatasheet {
  Current short_circuit_current, maximum_power_current;
  Voltage open_circuit_voltage, maximum_power_voltage;
  PerKelvin current_coefficient;  ///< relative change of the short-circuit current
  PerKelvin voltage_coefficient;  ///< relative change of the open-circuit voltage, negative
  int cells = 1;                  ///< in series
};

/// Solves (6). Throws std::domain_error with a plain reason when no single-diode curve passes through the points. When
/// the curve cannot also meet the temperature coefficient, the nearest that can be reached is taken and `note` says so.
SingleDiode five_parameters(const PanelDatasheet&, std::string& note);

/// (2) to (5). Below 10 W/m2 the shunt conductance keeps its value there (class assumption: a dark panel is not an
/// ideal insulator).
SingleDiode translate(const SingleDiode& reference, const PanelDatasheet&, Irradiance, Temperature cell);

}  // namespace overwinter
