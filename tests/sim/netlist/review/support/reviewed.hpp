// What a theme of the design review says about a shipped instrument with edits.
#pragma once

#include <doctest/doctest.h>

#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/review/finding.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

namespace overwinter::test {

using All = std::vector<std::string>;
using Edits = std::vector<std::pair<std::string, std::string>>;
using Theme = std::vector<DesignFinding> (*)(const Scenario&);

inline std::vector<DesignFinding> reviewed(Theme theme, const Edits& edits,
                                           const std::string& scenario = "peat-bog-better.yaml") {
  const WorkingFolder folder;
  return theme(read_scenario(folder.write("edited.yaml", shipped(scenario, edits))));
}

/// Without what is to be tried, which every finding must have all the same.
inline All texts(Theme theme, const Edits& edits, const std::string& scenario = "peat-bog-better.yaml") {
  All all;
  for (const DesignFinding& f : reviewed(theme, edits, scenario)) {
    CHECK_FALSE(f.rule.empty());
    CHECK_FALSE(f.parts.empty());
    CHECK_FALSE(f.suggestion.empty());
    all.push_back(f.text);
  }
  return all;
}

/// As they are printed.
inline All sentences(Theme theme, const Edits& edits, const std::string& scenario = "peat-bog-better.yaml") {
  All all;
  for (const DesignFinding& f : reviewed(theme, edits, scenario)) all.push_back(sentence(f));
  return all;
}

}  // namespace overwinter::test
