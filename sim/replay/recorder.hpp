// Writes trace.csv and events.csv while a run goes on.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Whether events.csv has a row for it.
inline bool is_listed(const Happening& h) { return !h.event || !h.event->routine; }

class Recorder final : public RunWatcher {
 public:
  /// Opens both files. Throws std::runtime_error when they cannot be written.
  Recorder(const Diagram&, const Weather&, const std::filesystem::path& trace, const std::filesystem::path& events);

  void on_step(Tick, const double* state, Evaluator&) override;
  void on_sample(Tick, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;
  void on_mechanism(Tick, const std::string& id, const std::string& part, const std::string& text) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  /// The run ended there, before its span: the last row of both files says so, and by what.
  void cut_short(Tick at, const std::string& by);
  /// Flushes both files; throws std::runtime_error if anything could not be written.
  void finish();

 private:
  void row(Tick, Evaluator&);

  const Diagram& diagram_;
  const Weather& weather_;
  std::ofstream trace_, events_;
  std::size_t interval_ = 0, columns_ = 0;
  Tick pending_row_ = never, last_row_ = never;
};

}  // namespace overwinter
