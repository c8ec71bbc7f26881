// One run from a scenario to its result folder.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "sim/replay/simulate.hpp"
#include "sim/replay/weather_input.hpp"

namespace overwinter {

struct ReplayOptions : RunOptions {
  /// Result folder; empty for out/<scenario file's name without extension>.
  std::string out;
  /// A weather file to use instead of the scenario's, as WeatherInput takes it.
  std::optional<std::string> weather;
  /// Of synthetic weather, in place of the scenario's.
  std::optional<std::uint64_t> seed;
  /// In which the span is to begin, in place of the scenario's.
  std::optional<int> year;
};

struct ReplayResult {
  nlohmann::ordered_json summary;
  Held survives = Held::undecided;  ///< the verdict
  std::string folder;               ///< where it stands
  bool cut_short = false;           ///< by the limit of processor time: the folder is the one for partial results
};

/// Simulates and writes. A run that was cut short goes beside the former result, see RunFolder::keep(). Throws
/// InputError (nothing written) or SimulationError (nothing published).
ReplayResult replay(const Scenario&, const ReplayOptions&);

/// out/ and the scenario file's name without extension, and what is added to it.
std::string default_folder(const Scenario&, const std::string& addition);

}  // namespace overwinter
