// The thinnest margins of a run: at every step, and in the worst case of every switch-on. A margin counts while its
// part is asked to work (Service::asks): a converter that is switched off crosses its lockout on the way down, and
// nothing is lost by it.
#pragma once

#include <limits>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/service/service.hpp"

namespace overwinter {

struct ThinnestMargin {
  const DiagramPart* part = nullptr;
  const Margin* margin = nullptr;
  /// V; infinite if the threshold was never in force, 0 where it was crossed. In the worst case of a switch-on negative
  /// by what is missing: a crossing that may have come to nothing.
  double value = std::numeric_limits<double>::infinity();
  Tick at = 0;  ///< of a crossed threshold, the first crossing
  bool crossed = false;
  bool worst_case = false;  ///< in the worst case of a switch-on, which lasts microseconds
};

class MarginLog final : public RunWatcher {
 public:
  /// The service must have been told first.
  MarginLog(const Diagram&, const Service&);
  void on_step(Tick, const double*, Evaluator&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  void on_worst_case(Tick, std::size_t part, std::size_t margin, double value) override;
  /// In part order, steps and worst cases apart.
  const std::vector<ThinnestMargin>& all() const { return all_; }
  /// A crossed one before all others, the earliest of them. Null if no threshold was ever in force.
  const ThinnestMargin* thinnest() const;

 private:
  struct Slot {
    std::size_t part, margin;
  };
  const Diagram& diagram_;
  const Service& service_;
  std::vector<bool> asked_;  ///< of each slot's part, when something happened last
  std::vector<Slot> slots_;
  std::vector<ThinnestMargin> all_;  ///< two per slot: step, worst case
};

}  // namespace overwinter
