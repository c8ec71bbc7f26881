// One scenario under many weathers, in forked workers.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/ensemble/member_result.hpp"
#include "sim/ensemble/worker_pool.hpp"
#include "sim/replay/simulate.hpp"

namespace overwinter {

struct EnsembleProgress {
  std::size_t done = 0, members = 0;
  double share = 0;   ///< of all members, those in work by how far they are
  std::string worst;  ///< of those done, with its verdict; empty before the first
};

/// `progress` is called in the workers, where what it throws is its member's failure.
struct EnsembleOptions : RunOptions, WorkerOptions {
  /// Result folder; empty for out/<scenario file's name without extension>-ensemble.
  std::string out;
  /// Called in this process, at least five times a second. What it throws ends the ensemble.
  std::function<void(const EnsembleProgress&)> watch;
};

struct EnsembleResult {
  nlohmann::ordered_json ensemble;
  std::vector<MemberResult> members;  ///< in canonical order; they refer to the members that were given
  std::string folder;                 ///< where it stands
  bool complete = true;               ///< every member was, and none was cut short
  bool held = true;                   ///< every member held every requirement
};

/// Simulates the members, which are more than one, and writes ensemble.json, members.csv and members/<name>.json, the
/// same whatever the number of workers but for `engine`. A member that cannot be completed is told with its reason,
/// the others are written. While it is at work, what is known stands at RunFolder::partial(), marked, and stays there
/// where it does not come to its end: a member was cut short by its limit; a Stopped was thrown, which then names the
/// folder and goes on; two workers died over one member, which is a SimulationError; the program was killed. Throws
/// InputError before any file is made, about all weather files.
EnsembleResult run_ensemble(const Scenario&, const std::vector<Member>&, const EnsembleOptions&);

}  // namespace overwinter
