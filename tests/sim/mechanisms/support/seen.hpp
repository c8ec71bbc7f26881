// What a run of a shipped scenario with edits says of mechanisms.
#pragma once

#include <doctest/doctest.h>

#include <string>
#include <utility>
#include <vector>

#include "sim/replay/replay.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

namespace overwinter::test {

using Json = nlohmann::ordered_json;
using Edits = std::vector<std::pair<std::string, std::string>>;

/// `scenario`: below scenarios/mechanisms, without its ending. `look_closer`: RunOptions.
inline Json summary_of(const std::string& scenario, const Edits& edits = {}, bool look_closer = true) {
  const WorkingFolder folder;
  ReplayOptions options;
  options.look_closer = look_closer;
  options.out = folder.path("run");
  return replay(read_scenario(folder.write("edited.yaml", shipped("mechanisms/" + scenario + ".yaml", edits))), options)
      .summary;
}

/// The record of a mechanism; null where it was not seen.
inline Json seen(const Json& summary, const std::string& id) {
  for (const Json& m : summary.at("mechanisms")) {
    if (m.at("id") == id) return m;
  }
  return nullptr;
}

inline std::string cause_id(const Json& summary, std::size_t brownout = 0) {
  return summary.at("brownouts").at("events").at(brownout).at("cause_id");
}

}  // namespace overwinter::test
