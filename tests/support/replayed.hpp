// A scenario with its weather and diagram, ready to be simulated by a test.
#pragma once

#include <string>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/replay/replay.hpp"

namespace overwinter::test {

struct Replayed {
  Scenario scenario;
  Weather weather;
  Diagram diagram;

  /// A file below the source folder, over other days than its own.
  Replayed(const std::string& file, CivilDate from, CivilDate to)
      : scenario(over(read_scenario(std::string(OVERWINTER_SOURCE) + "/" + file), from, to)),
        weather(weather_of(scenario, std::nullopt)),
        diagram(scenario) {}

 private:
  static Scenario over(Scenario s, CivilDate from, CivilDate to) {
    s.from = from;
    s.to = to;
    return s;
  }
};

}  // namespace overwinter::test
