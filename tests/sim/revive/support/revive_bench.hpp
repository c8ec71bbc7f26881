// A shipped instrument with its dawns and dead states, ready for a trial.
#pragma once

#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "sim/revive/trial.hpp"
#include "tests/support/replayed.hpp"

namespace overwinter::test {

struct ReviveBench {
  Replayed run;
  std::vector<DawnProfile> dawns;
  DeadStates states;
  TrialSetting setting;

  /// `file` below scenarios/, or an absolute path.
  explicit ReviveBench(const std::string& file, const std::vector<Override>& overrides = {},
                       CivilDate date = {2024, 10, 3}, int days = 2)
      : run(read_scenario(file.front() == '/' ? file : std::string(OVERWINTER_SOURCE) + "/scenarios/" + file,
                          overrides)),
        dawns(dawn_profiles(run.weather.site(), date, days + 1, false)),
        states(run.scenario, run.diagram, {"clear", "overcast", "cold"}, false) {
    setting.diagram = &run.diagram;
    setting.states = &states;
    setting.dawns = &dawns;
    setting.days = days;
    setting.wakes = wakes_to_be_sure(run.diagram);
  }
  ReviveBench(const ReviveBench&) = delete;
  ReviveBench& operator=(const ReviveBench&) = delete;

  std::size_t dimension(const std::string& name) const {
    for (std::size_t d = 0; d < states.dimensions().size(); ++d) {
      if (states.dimensions()[d].name == name) return d;
    }
    throw std::logic_error("no dimension " + name);
  }
  /// The first value of every dimension that is not named; a value may be named by its beginning.
  DeadState state(const std::vector<std::pair<std::string, std::string>>& named) const {
    DeadState s(states.dimensions().size(), 0);
    for (const auto& [name, value] : named) {
      const std::size_t d = dimension(name);
      const std::vector<std::string>& all = states.dimensions()[d].values;
      const auto found =
          std::find_if(all.begin(), all.end(), [&v = value](const std::string& one) { return one.rfind(v, 0) == 0; });
      if (found == all.end()) throw std::logic_error(name + " is never " + value);
      s[d] = static_cast<std::size_t>(found - all.begin());
    }
    return s;
  }
  std::size_t part(const std::string& name) const {
    const auto& all = run.diagram.parts();
    const auto found = std::find_if(all.begin(), all.end(), [&](const DiagramPart& p) { return p.name == name; });
    if (found == all.end()) throw std::logic_error("no part " + name);
    return static_cast<std::size_t>(found - all.begin());
  }
};

}  // namespace overwinter::test
