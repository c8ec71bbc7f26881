// From a run whose fast stores are taken for settled to one in which they are integrated, and back.
#pragma once

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Local error of a step in a transient, of each state's scale: 25 uV on a capacitor. What a step misses of the stores'
/// energy, C V times that, must not open the balance of a run that consists of hundreds of transients.
inline constexpr double transient_tolerance = 5e-7;

/// For a simulator of transients beside one with those options.
SimulatorOptions transient_options(SimulatorOptions settled);

/// The context of `settled` at that moment as one for `transient`, another simulator of the same diagram and weather
/// whose options say so. What is due there has not happened yet.
Context enter_transient(Simulator& settled, Simulator& transient, const Context&);

/// The way back.
Context leave_transient(Simulator& transient, Simulator& settled, const Context&);

}  // namespace overwinter
