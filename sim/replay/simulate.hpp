// One run in memory: from a scenario that was read to the numbers of its summary.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

#include "sim/engine/engine_options.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/service/service.hpp"
#include "sim/service/story.hpp"
#include "sim/service/verdict.hpp"

namespace overwinter {

struct RunOptions : EngineOptions {
  /// Distance of the samples that the trace's regular rows and the cell's extremes are taken from.
  Tick every = 600 * ticks_per_second;
  /// Called at every step with the time reached and the share of the span that is done, 0...1. What it throws ends the
  /// run; nothing is published then.
  std::function<void(Tick, double)> progress;
};

struct RunResult {
  nlohmann::ordered_json summary;        ///< without the time the run took
  Held survives = Held::undecided;       ///< the verdict
  std::optional<Tick> cut_short;         ///< where the limit of processor time ended it; none: the span was simulated
  std::optional<ServiceRecord> service;  ///< none where nothing wakes
  std::vector<Story> stories;            ///< of its brown-outs
};

/// `scenario` has the weather's span; `diagram` is its wiring, `others` watch beside. Throws SimulationError. Once the
/// limit of processor time is spent, the result is that of the span up to there, and says so.
RunResult simulate(const Scenario&, const Weather&, const Diagram&, const RunOptions&,
                   const std::vector<RunWatcher*>& others);

}  // namespace overwinter
