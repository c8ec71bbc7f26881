// What it costs to look into the moments whose worst case is thin.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "sim/engine/simulator.hpp"

namespace overwinter {

struct ZoomCost {
  // A year of wakes that each switch an empty store on, with the looks and without them:
  std::size_t wakes = 0, thin = 0, looks = 0, failed = 0;
  double with_seconds = 0, without_seconds = 0;
  // One such switch-on, from 1 ms before to 4 ms after:
  double window_seconds = 0;
  std::size_t window_steps = 0, window_solves = 0;
};

/// `year`: a scenario whose weather serves for a whole year, from its first day on; `moment`: one that begins with an
/// alarm which switches a store on.
ZoomCost measure_zoom(const std::string& year, const std::string& moment, int runs);
void print(const ZoomCost&);
nlohmann::ordered_json json_of(const ZoomCost&);

}  // namespace overwinter
