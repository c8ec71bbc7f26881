// Signal lines and open-drain stages with the ranges in which a test picks operating points at random.
#pragma once

#include <limits>
#include <vector>

#include "models/paths/open_drain_stage.hpp"
#include "models/paths/signal_line.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

/// A two-wire bus.
inline SignalLineParameters bus_lines() {
  SignalLineParameters p;
  p.resistance = Resistance{4700.0};
  p.lines = 2;
  return p;
}

inline std::vector<Example> signal_examples() {
  const double unconnected = std::numeric_limits<double>::quiet_NaN();
  SignalLineParameters pin;
  pin.resistance = Resistance{50.0};
  std::vector<Example> all;
  for (const SignalLineParameters& p : {bus_lines(), pin}) {
    const auto line = build<SignalLine>(p).model;
    all.push_back({"signal line, anywhere", line, {{-1, 6}, {-1, 6}}, {}, {}, {{0, 1}}, {}, true});
    all.push_back(
        {"signal line, knee", line, {{3.2, 3.4}, {2.5, 2.9}}, {}, {}, {{unconnected, unconnected}}, {}, true});
  }
  const auto stage = build<OpenDrainStage>(OpenDrainStageParameters{}).model;
  for (const double level : {0.0, 1.0, unconnected}) {
    all.push_back({"open-drain stage", stage, {{-1, 6}, {-0.5, 0.5}}, {}, {}, {{level, level}}, {}, true});
  }
  return all;
}

}  // namespace overwinter::test
