#include "sim/engine/engine_options.hpp"

namespace overwinter {

SimulatorOptions simulator_options(const EngineOptions& wanted, Tick sample_every) {
  SimulatorOptions engine;
  engine.stepping = wanted.stepping;
  engine.elimination = wanted.elimination;
  engine.tolerance = wanted.tolerance;
  engine.sample_every = sample_every;
  engine.step_over_hiccups = !wanted.every_start;
  engine.look_closer = wanted.look_closer;
  engine.look = wanted.look;
  return engine;
}

}  // namespace overwinter
