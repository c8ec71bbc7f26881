// What a person sees of `overwinter why`.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace overwinter {

/// Of each brown-out its chain, the changes that would have avoided it, and the command that runs the smallest.
/// `command`: that of a run of the scenario as it was told of. `folder`: where it was written.
std::string why_text(const nlohmann::ordered_json& result, const std::string& command, const std::string& folder);

}  // namespace overwinter
