// Several watchers of one run.
#pragma once

#include <utility>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Passes everything on, in the order given.
class Watchers final : public RunWatcher {
 public:
  explicit Watchers(std::vector<RunWatcher*> all) : all_(std::move(all)) {}
  void on_step(Tick t, const double* state, Evaluator& system) override {
    for (RunWatcher* w : all_) w->on_step(t, state, system);
  }
  void on_sample(Tick t, const double* state, Evaluator& system) override {
    for (RunWatcher* w : all_) w->on_sample(t, state, system);
  }
  void on_happening(const Happening& h, const double* state, Evaluator& system) override {
    for (RunWatcher* w : all_) w->on_happening(h, state, system);
  }
  void on_worst_case(Tick t, std::size_t part, std::size_t margin, double value) override {
    for (RunWatcher* w : all_) w->on_worst_case(t, part, margin, value);
  }
  void on_closer_look(Tick begin, Tick end, bool failed) override {
    for (RunWatcher* w : all_) w->on_closer_look(begin, end, failed);
  }
  void on_leap(const Leap& leap) override {
    for (RunWatcher* w : all_) w->on_leap(leap);
  }

 private:
  std::vector<RunWatcher*> all_;
};

}  // namespace overwinter
