// One run from a scenario file to its result folder.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/service/verdict.hpp"

namespace overwinter {

struct ReplayOptions {
  /// Result folder; empty for out/<scenario file's name without extension>.
  std::string out;
  /// A weather file to use instead of the scenario's, as weather_of() takes it.
  std::optional<std::string> weather;
  /// Distance of the trace's regular rows.
  Tick every = 600 * ticks_per_second;
  /// Local error of the integration, SimulatorOptions::tolerance.
  double tolerance = SimulatorOptions{}.tolerance;
  /// Simulates every restart in vain, instead of stepping over those that repeat.
  bool every_start = false;
  Stepping stepping = SimulatorOptions{}.stepping;
  Elimination elimination = SimulatorOptions{}.elimination;
  /// Called at every step with the time reached and the share of the span that is done, 0...1. What it throws ends the
  /// run; nothing is published then.
  std::function<void(Tick, double)> progress;
};

struct ReplayResult {
  nlohmann::ordered_json summary;
  Held survives = Held::yes;  ///< yes where nothing is required
  std::string folder;
};

/// The scenario's weather on its calendar, seen from its site. `weather_file` is read instead of the scenario's: one in
/// the EPW layout at its own place, a CSV file with the columns that the scenario describes, at the scenario's site.
/// Throws InputError.
Weather weather_of(const Scenario&, const std::optional<std::string>& weather_file);

/// Reads, simulates and writes. Throws InputError (nothing written) or SimulationError (nothing published).
ReplayResult replay(const std::string& scenario_path, const ReplayOptions&);

}  // namespace overwinter
