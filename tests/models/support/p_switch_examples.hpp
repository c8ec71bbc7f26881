// Switches like those of the part classes, for tests that build models in code.
#pragma once

#include <vector>

#include "models/paths/p_switch.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

inline PSwitchParameters logic_switch() {
  PSwitchParameters p;
  p.on_resistance = Curve({2.5, 4.5, 8}, {0.042, 0.030, 0.026}, Interpolation::monotone, Outside::hold);
  p.threshold = Voltage{0.8};
  p.gate_pull_up = Resistance{1e6};
  return p;
}

inline PSwitchParameters standard_switch() {
  PSwitchParameters p;
  p.on_resistance = Curve({4.5, 10}, {0.120, 0.075}, Interpolation::monotone, Outside::hold);
  p.threshold = Voltage{2.0};
  return p;
}

inline std::vector<Example> p_switch_examples() {
  const auto logic = build<PSwitch>(logic_switch()).model;
  const auto standard = build<PSwitch>(standard_switch()).model;
  const std::vector<Range> gate{{-2, 8}, {-2, 8}};
  return {
      {"p-switch, anywhere", logic, {{-2, 8}, {-2, 8}, {-2, 8}}, {}, gate, {}, {}, true},
      {"p-switch, half driven", logic, {{3.6, 3.8}, {2, 3.8}, {2.4, 3.2}}, {}, gate, {}, {}, true},
      {"p-switch, without pull-up", standard, {{3, 7}, {0, 7}, {0, 6}}, {}, gate, {}, {}, true},
      {"p-switch, in a transient", logic, {{-2, 8}, {-2, 8}, {-2, 8}}, {}, gate, {}, {}, false, true},
  };
}

}  // namespace overwinter::test
