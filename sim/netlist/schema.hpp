// The JSON Schema (draft 7) of scenario files, for editors.
#pragma once

#include <nlohmann/json_fwd.hpp>

namespace overwinter {

/// Accepts every scenario that read_scenario() accepts; units, names and wiring are only checked by the latter.
nlohmann::ordered_json scenario_schema();

}  // namespace overwinter
