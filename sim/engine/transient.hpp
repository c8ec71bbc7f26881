// From a run whose fast stores are taken for settled to one in which they are integrated, and back.
#pragma once

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Local error of a step in a transient, of each state's scale: 0.25 mV on a capacitor at the default tolerance of the
/// settled run, less in proportion where that is less. It is what hundreds of transients in a loop leave open in the
/// energy balance.
inline constexpr double transient_tolerance = 5e-6, of_settled_tolerance = 50;

/// For a simulator of transients beside one with those options.
SimulatorOptions transient_options(SimulatorOptions settled);

/// The settled run does not tell how the fast stores stand: integrated from there, they would move at once, of their
/// own. What comes of that tells nothing of the instrument.
class TransientRefused : public SimulationError {
 public:
  using SimulationError::SimulationError;
};

/// The context of `settled` at that moment as one for `transient`, another simulator of the same diagram and weather
/// whose options say so. What is due there has not happened yet. Throws TransientRefused where, before anything
/// happens, a net would stand 20 mV off where it is in the settled run, or a fast state would move by 20 mV (or mA) in
/// 10 us otherwise than there.
Context enter_transient(Simulator& settled, Simulator& transient, const Context&);

/// The way back.
Context leave_transient(Simulator& transient, Simulator& settled, const Context&);

}  // namespace overwinter
