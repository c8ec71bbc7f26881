// Writes trace.csv and events.csv while a run goes on, and keeps the extremes for the summary.
#pragma once

#include <deque>
#include <filesystem>
#include <fstream>
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

/// The output of a part that the summary watches.
struct WatchedOutput {
  std::size_t part = 0;
  const Output* output = nullptr;
  Extremes extremes;
};

class Recorder final : public RunWatcher {
 public:
  /// Opens both files. Throws std::runtime_error when they cannot be written.
  Recorder(const Diagram&, const Weather&, const std::filesystem::path& trace, const std::filesystem::path& events);

  /// Follows an output's lowest and highest value at every step, sample and event. The reference stays valid.
  WatchedOutput& watch(const std::string& part, const std::string& output);

  void on_step(Tick, const double* state, Evaluator&) override;
  void on_sample(Tick, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  /// Flushes both files; throws std::runtime_error if anything could not be written.
  void finish();

 private:
  void row(Tick, Evaluator&);
  void take_extremes(Tick, Evaluator&);

  const Diagram& diagram_;
  const Weather& weather_;
  std::ofstream trace_, events_;
  std::deque<WatchedOutput> watched_;
  std::size_t interval_ = 0;
  Tick pending_row_ = never, last_row_ = never;
};

}  // namespace overwinter
