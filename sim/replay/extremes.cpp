#include "sim/replay/extremes.hpp"

#include <stdexcept>

namespace overwinter {

void Extremes::take(double value, Tick at) {
  if (value < low) {
    low = value;
    low_at = at;
  }
  if (value > high) {
    high = value;
    high_at = at;
  }
}

const WatchedOutput& ExtremesLog::watch(std::size_t part, const std::string& output) {
  for (const Output& o : diagram_.parts()[part].table->outputs) {
    if (o.name == output) return watched_.emplace_back(WatchedOutput{part, &o, {}});
  }
  throw std::logic_error("no output " + diagram_.parts()[part].name + "." + output);
}

void ExtremesLog::take(Tick at, Evaluator& system) {
  for (WatchedOutput& w : watched_) {
    w.extremes.take(w.output->value(system.model(w.part), system.view(w.part)), at);
  }
}

}  // namespace overwinter
