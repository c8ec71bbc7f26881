// What a run was given beside its scenario's file, for results.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/netlist/scenario.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// `overrides`: the values of --set, each with what it stands in place of. `faults`: all that were given, in the
/// scenario and by --fault; `to` is null for what does not end with the span.
nlohmann::ordered_json changes_json(const Scenario&, const Weather&);

}  // namespace overwinter
