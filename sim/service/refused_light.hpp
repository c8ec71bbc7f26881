// What kept the light of a day from being harvested.
#pragma once

#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Day by day of a span that begins at `begin`: the part and the reason that refused the larger half of what the panels
/// offered on that day.
class RefusedLight final : public RunWatcher {
 public:
  RefusedLight(const Diagram&, Tick begin);
  void on_step(Tick, const double* state, Evaluator&) override;
  /// "charger: too cold"; empty for a day on which nothing refused as much, or that has not been reached.
  std::string on_day(std::size_t day) const { return day < days_.size() ? days_[day] : std::string(); }

 private:
  const Diagram& diagram_;
  Tick next_midnight_;
  std::vector<std::size_t> offers_;  ///< integrals of what is offered
  std::vector<double> before_;       ///< all integrals at the last midnight
  std::vector<std::string> days_;
};

}  // namespace overwinter
