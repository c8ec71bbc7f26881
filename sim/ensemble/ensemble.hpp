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
  /// Called in this process, at least five times a second. What it throws ends the ensemble; nothing is published then.
  std::function<void(const EnsembleProgress&)> watch;
};

struct EnsembleResult {
  nlohmann::ordered_json ensemble;
  std::vector<MemberResult> members;  ///< in canonical order; they refer to the members that were given
  std::string folder;
  bool complete = true;  ///< every member was
  bool held = true;      ///< every member held every requirement
};

/// Simulates the members, which are more than one, and writes ensemble.json, members.csv and members/<name>.json, the
/// same whatever the number of workers but for `engine`. A member that cannot be completed is told with its reason,
/// the others are written. Throws InputError before any file is made, about all weather files; SimulationError, and
/// nothing is published, where two workers died over one member.
EnsembleResult run_ensemble(const Scenario&, const std::vector<Member>&, const EnsembleOptions&);

}  // namespace overwinter
