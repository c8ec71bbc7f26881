// A scenario with its weather and diagram, ready to be simulated by a test.
#pragma once

#include <string>
#include <utility>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/replay/replay.hpp"

namespace overwinter::test {

struct Replayed {
  Scenario scenario;
  Weather weather;
  Diagram diagram;

  explicit Replayed(Scenario s)
      : scenario(std::move(s)), weather(weather_of(scenario, std::nullopt)), diagram(scenario) {}
  explicit Replayed(const std::string& path) : Replayed(read_scenario(path)) {}
  /// A file below the source folder, over other days than its own.
  Replayed(const std::string& file, CivilDate from, CivilDate to)
      : Replayed(over(read_scenario(std::string(OVERWINTER_SOURCE) + "/" + file), from, to)) {}

 private:
  static Scenario over(Scenario s, CivilDate from, CivilDate to) {
    s.from = from;
    s.to = to;
    return s;
  }
};

}  // namespace overwinter::test
