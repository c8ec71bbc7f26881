// Takes down every step and event of a transient as waveforms: all nets, all lines with a level of their own, and of
// the parts the voltages, currents and regimes among their outputs and fast states.
#pragma once

#include <functional>
#include <stdexcept>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// More rows than a table or page is good for.
struct TooManyRows : std::runtime_error {
  explicit TooManyRows(Tick t);
  Tick reached;
};

class WaveformRecorder final : public RunWatcher {
 public:
  /// `progress` is told of every step. All references outlive the recorder.
  WaveformRecorder(const Scenario&, const Diagram&, std::size_t most_rows, std::function<void(Tick)> progress);

  /// Throws TooManyRows.
  void on_step(Tick, const double* state, Evaluator&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;

  /// What was seen, without title, occasion and moment. A threshold stands where it was when first in force.
  Waveforms finish();

 private:
  using Course = std::function<double(const double* state, Evaluator&)>;

  void row(Tick, const double* state, Evaluator&);
  void look_at_thresholds(Evaluator&);

  /// A part's margin whose threshold may belong to the voltage of a net.
  struct Level {
    std::size_t part, margin, net;
    bool seen = false;
  };

  const Diagram& diagram_;
  const std::size_t most_rows_;
  const std::function<void(Tick)> progress_;
  std::vector<Course> courses_;
  std::vector<Level> levels_;
  Waveforms w_;
};

}  // namespace overwinter
