// How a person wants the engine to run: the same choices for run, why, zoom, revive and ensembles.
#pragma once

#include <functional>
#include <optional>

#include "sim/engine/simulator.hpp"

namespace overwinter {

struct EngineOptions {
  /// Local error of the integration, SimulatorOptions::tolerance.
  double tolerance = SimulatorOptions{}.tolerance;
  /// Simulates every restart in vain, instead of stepping over those that repeat.
  bool every_start = false;
  /// Looks into switch-ons, bursts and recoveries whose worst case is thin (sim/engine/microscope.hpp).
  bool look_closer = true;
  Stepping stepping = SimulatorOptions{}.stepping;
  Elimination elimination = SimulatorOptions{}.elimination;
  /// Called at every step, SimulatorOptions::look.
  std::function<void()> look = {};
  /// s of processor time, after which what is done is cut short (sim/stop.hpp): a run, each member of an ensemble, the
  /// work of why and of revive with all their workers.
  std::optional<double> limit = {};
};

/// What the simulator is told. `sample_every`: distance of regular samples, 0 for none.
SimulatorOptions simulator_options(const EngineOptions&, Tick sample_every = 0);

}  // namespace overwinter
