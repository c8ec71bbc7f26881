// The mechanisms of brown-out at work in a run, and the one behind each of its brown-outs.
//
//   cause id    the mechanism of the first link of a brown-out's chain, decided by the network at that moment; given
//               faults are passed over, for what they did has a mechanism of its own. Where that link only tells that
//               the cell had nothing left to give (a lockout or sag that no mechanism of the moment explains), the
//               first of what kept energy from it, in the order of mechanisms(), that alone accounts for half of what
//               the cell has lost since the span's begin and more, and with whose energy in the cell that link would
//               not have come, where that can be judged (Detector::needed). Where there is none, `fault` if one was in
//               force, or else `unexplained`
//
// Follows a run cheaply: routine happenings and steps are not passed on, see Detector.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "sim/mechanisms/detector.hpp"
#include "sim/netlist/review/finding.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

class MechanismLog final : public RunWatcher {
 public:
  /// All outlive it; the scenario is one that was read. `told` (null for nobody) hears of every mechanism on the first
  /// day of a spell of days on which it is seen.
  MechanismLog(const Scenario&, const Diagram&, const Weather&, RunWatcher* told = nullptr);

  void on_step(Tick reached, const double* state, Evaluator& system) override {
    if (reached >= next_) look(reached, state, system);
  }
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;

  /// Once, at the end of the run: the records, and `cause_id` of every brown-out.
  void finish(const Context&, Evaluator&, ServiceRecord*);
  /// After finish(), in the order of mechanisms(), then by part.
  std::vector<const MechanismRecord*> records() const { return book_.all(); }
  /// After finish(): brown-outs that nothing explains are worth a look.
  std::vector<DesignFinding> findings() const { return findings_; }

 private:
  void look(Tick, const double* state, Evaluator&);
  void tell(Tick now);
  void set_next();
  std::string cause_of(const BrownOut&) const;
  std::optional<double> needed(const BrownOut&) const;
  void note_unexplained(const ServiceRecord&);

  const Diagram& diagram_;
  const Instrument instrument_;
  MechanismBook book_;
  std::vector<std::unique_ptr<Detector>> detectors_;
  RunWatcher* const told_;
  std::map<const MechanismRecord*, Tick> told_at_;
  Tick next_, midnight_;
  std::optional<double> stored_at_begin_;        ///< J
  std::vector<std::pair<Tick, double>> stored_;  ///< J, at the ends of the days
  std::vector<DesignFinding> findings_;
};

}  // namespace overwinter
