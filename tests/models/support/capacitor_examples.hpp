// Capacitors with the ranges in which a test picks operating points at random.
#pragma once

#include <vector>

#include "models/storage/capacitor.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

inline CapacitorParameters electrolytic_470uf() {
  CapacitorParameters p;
  p.capacitance = Capacitance{470e-6};
  p.series_resistance = Resistance{0.15};
  return p;
}

inline std::vector<Example> capacitor_examples() {
  CapacitorParameters leaking = electrolytic_470uf();
  leaking.insulation_time = Duration{1000.0};
  CapacitorParameters ceramic;
  ceramic.capacitance = Capacitance{100e-6};
  ceramic.series_resistance = Resistance{0.005};
  ceramic.leakage_resistance = Resistance{1e6};
  std::vector<Example> all;
  for (const CapacitorParameters& p : {electrolytic_470uf(), leaking, ceramic}) {
    const auto model = build<Capacitor>(p).model;
    all.push_back({"capacitor, anywhere",
                   model,
                   {{-1, 6}, {-0.5, 0.5}},
                   {},
                   {{-1, 6}, {0, 0.03}, {-1, 6}, {-1, 6}, {-1, 6}},
                   {},
                   {7}});
    all.push_back({"capacitor, near",
                   model,
                   {{4.9, 5.1}, {0, 0}},
                   {},
                   {{4.95, 5.05}, {0, 0.03}, {4.95, 5.05}, {4.9, 5.05}, {-0.05, 0.05}},
                   {},
                   {7}});
    Example transient = all.back();
    transient.label = "capacitor, in a transient";
    transient.transient = true;
    all.push_back(transient);
  }
  return all;
}

}  // namespace overwinter::test
