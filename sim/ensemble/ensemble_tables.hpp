// ensemble.json and members.csv.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/ensemble/member_result.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// The members in canonical order with their main numbers; how many held; which requirements the others failed or left
/// undecided; for each number the median, the tenth and the worst over the members that were completed and not cut
/// short.
///
/// A quantile is the value of one of the members (nearest rank): at `tenth`, at least a tenth of the members is as bad
/// or worse. Each number is ranked by itself.
/// What ended it early stands in `cut_short`, which is null where nothing did.
nlohmann::ordered_json ensemble_json(const Scenario&, const std::vector<MemberResult>&,
                                     const nlohmann::ordered_json& cut_short);

/// A row for each member, in the same order.
std::string members_csv(const std::vector<MemberResult>&);

}  // namespace overwinter
