// Temperature laws that several parts share.
#pragma once

#include <cmath>

#include "models/units.hpp"

namespace overwinter {

/// Reference temperature of datasheets, 25 degC.
inline constexpr Temperature reference_temperature = celsius(25);

/// k T / q, 25.692579 mV at 25 degC.
inline Voltage thermal_voltage(Temperature t) { return boltzmann * t / elementary_charge; }

/// exp(Ea/k (1/T - 1/Tref)): how much larger a thermally activated resistance is at T (Arrhenius; e.g. Atkins,
/// Physical Chemistry, "Arrhenius equation"). Above 1 in the cold. 0.207 eV equal 20 kJ/mol.
inline double arrhenius(Energy activation, Temperature t, Temperature reference = reference_temperature) {
  return std::exp(activation / boltzmann * (1.0 / t - 1.0 / reference));
}

}  // namespace overwinter
