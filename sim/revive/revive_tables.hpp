// The results of revive as JSON and CSV.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "sim/revive/revive.hpp"

namespace overwinter {

/// A result on its way from a worker.
nlohmann::ordered_json trial_json(const TrialResult&);
TrialResult trial_of(const nlohmann::ordered_json&);

/// revive.json without `engine`: dawns, dimensions, counts, what was dropped, a row for each charge, and every block
/// with the groups of states that it holds. What ended it early stands in `cut_short`, which is null where nothing did.
nlohmann::ordered_json revive_json(const Scenario&, const Weather&, const ReviveResult&,
                                   const nlohmann::ordered_json& cut_short);
/// Every state that was put through its dawn.
nlohmann::ordered_json states_json(const ReviveResult&);
std::string revive_csv(const ReviveResult&);

}  // namespace overwinter
