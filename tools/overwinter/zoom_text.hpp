// What a person and a script see of a zoom's result.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// The moment, the window, what happened in it, and what was written.
/// `changes`: of changes_json(). `from`: the file of --from, or nothing.
std::string zoom_text(const Waveforms&, const nlohmann::ordered_json& changes, const std::string& from,
                      const std::string& folder, const std::vector<std::string>& files);

/// The same as JSON, with every event; times from the moment in seconds.
nlohmann::ordered_json zoom_json(const Waveforms&, const nlohmann::ordered_json& changes, const std::string& from,
                                 const std::string& folder, const std::vector<std::string>& files);

}  // namespace overwinter
