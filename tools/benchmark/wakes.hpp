// What a wake and a load phase cost.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace overwinter {

struct WakeCost {
  int days = 0;
  std::size_t wakes = 0;
  double seconds_per_year = 0;
  double microseconds = 0, solves = 0, events = 0;  ///< of the whole run, per wake
  std::size_t few = 0, many = 0;                    ///< phases of a wake in the two runs that differ by them alone
  double phase_microseconds = 0, phase_solves = 0;  ///< of one more phase
};

/// At the product's default stepper and tolerance.
WakeCost measure_wakes(const std::string& scenario, int days, int runs);
void print(const WakeCost&);
nlohmann::ordered_json json_of(const WakeCost&);

}  // namespace overwinter
