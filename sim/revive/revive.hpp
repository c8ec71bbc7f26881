// From a grid of dead states: which come back by themselves, and what keeps the others.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sim/ensemble/worker_pool.hpp"
#include "sim/revive/trial.hpp"

namespace overwinter {

struct ReviveProgress {
  std::size_t done = 0, states = 0;
  double share = 0;  ///< of all the work
};

/// Local error of the integration where nothing else is said: verdicts, no energies.
inline constexpr double revive_tolerance = 1e-5;

struct ReviveOptions : EngineOptions, WorkerOptions {
  ReviveOptions() { tolerance = revive_tolerance; }
  /// Result folder; empty for out/<scenario file's name without extension>-revive.
  std::string out;
  /// The first day; none: the dullest day of the scenario's span.
  std::optional<CivilDate> date;
  /// In which the first wake must be completed; none: the scenario's sunny days.
  std::optional<int> days;
  /// More charges and dawns.
  bool fine = false;
  /// "DIMENSION=VALUE": only these values of a dimension.
  std::vector<std::string> suppose;
  /// Called in this process, at least five times a second. What it throws ends the work.
  std::function<void(const ReviveProgress&)> watch;
};

inline constexpr int most_revive_days = 60;

/// A dead state that was put through its dawn.
struct ReviveRow {
  DeadState state;
  TrialResult result;
};

/// Combinations that were not, for one reason.
struct DroppedStates {
  std::string why;
  std::size_t count = 0;
};

struct ReviveResult {
  CivilDate date;
  bool date_given = false;
  int days = 0;
  std::vector<DawnProfile> dawns;
  std::vector<Dimension> dimensions;
  std::size_t wakes = 0;  ///< that make a state come back
  std::size_t combinations = 0;
  std::vector<DroppedStates> dropped;  ///< the largest first
  std::vector<ReviveRow> rows;         ///< in the grid's order
  nlohmann::ordered_json summary;
  std::string folder;      ///< where it stands
  bool cut_short = false;  ///< by the limit of processor time: rows are left that were not tried
  std::size_t count(Fate) const;
  /// States that need a visit.
  std::size_t visits() const;
};

/// Writes revive.json and revive.csv, the same whatever the number of workers but for `engine`. While it is at work,
/// what is known stands at RunFolder::partial(), marked, and stays there where it does not come to its end: the limit
/// was spent; a Stopped was thrown, which then names the folder and goes on; two workers died over one state, which is
/// a SimulationError; the program was killed. Throws InputError before anything is written.
ReviveResult revive(const Scenario&, const ReviveOptions&);

}  // namespace overwinter
