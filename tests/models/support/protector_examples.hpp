// Protectors like those of the part classes, for tests that build models in code.
#pragma once

#include <vector>

#include "models/paths/protector.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

inline ProtectorParameters protector_by_voltage() {
  ProtectorParameters p;
  p.resistance = Resistance{0.05};
  p.overcurrent = Current{2.5};
  p.overdischarge_voltage = Voltage{2.4};
  p.tripped_consumption = Current{1.5e-6};
  return p;
}

inline ProtectorParameters protector_by_charge() {
  ProtectorParameters p = protector_by_voltage();
  p.release = DischargeRelease::charge;
  p.overdischarge_voltage = Voltage{2.8};
  p.consumption = Current{3e-6};
  p.tripped_consumption = Current{0.1e-6};
  return p;
}

inline std::vector<Example> protector_examples() {
  const std::vector<int> memory{2, 1, 1, 1, 1};
  const auto by_voltage = build<Protector>(protector_by_voltage()).model;
  const auto by_charge = build<Protector>(protector_by_charge()).model;
  return {
      {"protector, anywhere", by_voltage, {{-2, 6}, {-2, 7}, {-0.5, 0.5}}, {}, {}, {}, memory, true},
      {"protector, small drop", by_voltage, {{3.6, 3.7}, {3.6, 3.7}, {0, 0}}, {}, {}, {}, memory, true},
      {"protector, body diode", by_charge, {{2.7, 2.9}, {3.2, 3.9}, {0, 0}}, {}, {}, {}, memory, true},
  };
}

}  // namespace overwinter::test
