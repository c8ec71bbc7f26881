// What a dead instrument tries before it is back: starts, completed wakes, and what they take.
#pragma once

#include <optional>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

class Attempts final : public RunWatcher {
 public:
  explicit Attempts(const Diagram&);
  /// The run begins there: energy is counted from it, and a start that its settling brought counts.
  void begin(const Context&);
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;

  const std::vector<Tick>& completed() const { return completed_; }
  double starts() const { return starts_; }  ///< of the controller; what was stepped over counts about
  /// Times that a part cut off what it feeds, and brown-outs of the controller; what was stepped over counts about.
  double failures() const { return failures_; }
  /// Starts of the controller and times that power came and never became valid, the completed wakes' own left out. What
  /// was stepped over counts about.
  double in_vain() const { return starts_ + failed_ - (running_ ? 1 : 0) - static_cast<double>(completed_.size()); }
  /// J, taken by the controller and the loads it switches until the first completed wake began, or until `now`.
  double energy(const Context& now) const;

 private:
  double taken(const double* state) const;

  const Diagram& diagram_;
  std::vector<std::size_t> flows_;  ///< their places in the state vector
  double starts_ = 0, failed_ = 0, failures_ = 0;
  bool running_ = false, waiting_ = false;  ///< waiting: power came and is not valid yet
  std::vector<Tick> completed_;
  double at_begin_ = 0, at_start_ = 0;
  std::optional<double> before_first_;
};

}  // namespace overwinter
