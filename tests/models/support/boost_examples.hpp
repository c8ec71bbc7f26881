// Step-up converters with the ranges in which a test picks operating points at random.
#pragma once

#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "models/converters/boost.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

/// 5 V with pass-through; close to the part class of 1 A.
inline BoostParameters boost_5v() {
  BoostParameters p;
  p.output_voltage = Voltage{5.0};
  p.efficiency = Map({2.7, 3.3, 4.2}, {1e-4, 1e-3, 1e-2, 0.1, 0.3, 1},
                     {{0.55, 0.78, 0.86, 0.90, 0.88, 0.78},
                      {0.58, 0.80, 0.88, 0.92, 0.91, 0.84},
                      {0.62, 0.83, 0.90, 0.94, 0.94, 0.90}});
  p.quiescent_enabled = Current{25e-6};
  p.quiescent_disabled = Current{0.5e-6};
  p.lockout = Voltage{2.7};
  p.lockout_hysteresis = Voltage{0.2};
  p.current_limit = Current{2.5};
  p.divider_resistance = Resistance{5e6};
  return p;
}

inline BoostParameters disconnecting_boost_5v() {
  BoostParameters p = boost_5v();
  p.output_disconnect = true;
  p.divider_resistance.reset();
  p.current_limit = Current{1.0};
  return p;
}

inline std::vector<Example> boost_examples() {
  const std::vector<int> memory{5, 13};
  const double unconnected = std::numeric_limits<double>::quiet_NaN();
  const std::vector<std::pair<const char*, std::vector<Range>>> pins{
      {"boost, anywhere", {{-2, 7}, {-2, 7}, {-0.2, 0.2}}},
      {"boost, regulating", {{2.6, 4.3}, {4.95, 5.001}, {-0.0005, 0.0005}}},
      {"boost, overload", {{2.6, 4.3}, {-0.1, 4.9}, {-0.1, 0.1}}},
      {"boost, lockout", {{1.3, 2.8}, {2, 5}, {0, 0}}},
      {"boost, passing on", {{4.9, 5.6}, {4.8, 5.3}, {0, 0}}},
  };
  std::vector<Example> all;
  for (const BoostParameters& p : {boost_5v(), disconnecting_boost_5v()}) {
    const auto model = build<Boost>(p).model;
    const std::vector<Range> fast{{0, 5.5}, {0, 1.5}, {-0.5, 2}, {0, 1.1}};
    for (const auto& [label, where] : pins) {
      all.push_back({label, model, where, {}, fast, {{0, 1}}, memory, true});
      all.push_back({std::string(label) + ", in a transient", model, where, {}, fast, {{0, 1}}, memory, false, true});
    }
    all.push_back({"boost, no line", model, pins[0].second, {}, fast, {{unconnected, unconnected}}, memory, true});
  }
  return all;
}

}  // namespace overwinter::test
