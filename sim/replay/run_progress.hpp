// Tells how far a run is, by RunOptions::progress.
#pragma once

#include "sim/replay/simulate.hpp"

namespace overwinter {

class RunProgress final : public RunWatcher {
 public:
  /// Both outlive it.
  RunProgress(const RunOptions& options, const Weather& weather) : options_(options), weather_(weather) {}
  void on_step(Tick reached, const double*, Evaluator&) override {
    if (!options_.progress) return;
    options_.progress(reached, static_cast<double>(reached - weather_.begin()) /
                                   static_cast<double>(weather_.end() - weather_.begin()));
  }

 private:
  const RunOptions& options_;
  const Weather& weather_;
};

}  // namespace overwinter
