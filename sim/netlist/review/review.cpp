#include "sim/netlist/review/review.hpp"

#include <iterator>

#include "sim/netlist/review/themes.hpp"

namespace overwinter {

std::vector<DesignFinding> review(const Scenario& scenario) {
  std::vector<DesignFinding> all;
  for (const auto theme :
       {review_charging, review_wiring, review_policy, review_readings, review_converters, review_burst_paths,
        review_gates, review_gate_drives, review_decoupling, review_back_feed, review_dark, review_alarms}) {
    std::vector<DesignFinding> found = theme(scenario);
    all.insert(all.end(), std::make_move_iterator(found.begin()), std::make_move_iterator(found.end()));
  }
  return all;
}

}  // namespace overwinter
