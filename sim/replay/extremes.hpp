// The extremes of outputs that the summary tells of.
#pragma once

#include <deque>
#include <limits>
#include <string>

#include "sim/engine/simulator.hpp"

namespace overwinter {

struct Extremes {
  double low = std::numeric_limits<double>::infinity();
  double high = -std::numeric_limits<double>::infinity();
  Tick low_at = 0, high_at = 0;
  void take(double value, Tick at);
};

struct WatchedOutput {
  std::size_t part = 0;
  const Output* output = nullptr;
  Extremes extremes;
};

/// Follows outputs at every step, sample and event.
class ExtremesLog final : public RunWatcher {
 public:
  explicit ExtremesLog(const Diagram& diagram) : diagram_(diagram) {}
  /// The reference stays valid. Throws std::logic_error where the part has no such output.
  const WatchedOutput& watch(std::size_t part, const std::string& output);

  void on_step(Tick t, const double*, Evaluator& system) override { take(t, system); }
  void on_sample(Tick t, const double*, Evaluator& system) override { take(t, system); }
  void on_happening(const Happening& h, const double*, Evaluator& system) override { take(h.time, system); }

 private:
  void take(Tick, Evaluator&);

  const Diagram& diagram_;
  std::deque<WatchedOutput> watched_;
};

}  // namespace overwinter
