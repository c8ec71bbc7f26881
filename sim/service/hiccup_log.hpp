// The failed starts of a run that were stepped over: what failed, how often, for how long, what they used.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

struct HiccupTotal {
  std::string part, event;  ///< the failure
  double times = 0;         ///< about
};

class HiccupLog final : public RunWatcher {
 public:
  explicit HiccupLog(const Diagram& diagram) : diagram_(diagram) {}
  void on_leap(const Leap&) override;
  /// In the order in which they first came.
  const std::vector<HiccupTotal>& failures() const { return failures_; }
  Tick time() const { return time_; }
  double energy() const { return energy_; }          ///< J, delivered and lost meanwhile
  double unbalanced() const { return unbalanced_; }  ///< J, see Leap

 private:
  const Diagram& diagram_;
  std::vector<HiccupTotal> failures_;
  Tick time_ = 0;
  double energy_ = 0, unbalanced_ = 0;
};

}  // namespace overwinter
