// What a watcher would have been told of a piece of a run, to be told later: whether it is to be told at all may only
// show at its end.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Of steps, samples and happenings within one period of faults; nothing else is kept.
class Recording final : public RunWatcher {
 public:
  void clear() { entries_.clear(); }
  /// In the order in which they came. `run`: the simulator that they came from, whose evaluator stands elsewhere
  /// afterwards; `period`: that of its faults.
  void tell(Simulator& run, std::size_t period, RunWatcher&) const;

  void on_step(Tick, const double* state, Evaluator&) override;
  void on_sample(Tick, const double* state, Evaluator&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;

 private:
  enum class Kind { step, sample, happening };
  struct Entry {
    Kind kind;
    Tick time;
    Happening happening;
    std::vector<double> state, drive, network;
    std::vector<std::int32_t> memory;
  };
  void keep(Kind, Tick, const Happening&, Evaluator&);

  std::vector<Entry> entries_;
};

}  // namespace overwinter
