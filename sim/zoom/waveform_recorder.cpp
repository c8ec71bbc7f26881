#include "sim/zoom/waveform_recorder.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace overwinter {

namespace {

bool is_shown(const Signal& s) { return s.kind != Signal::Kind::other; }

std::size_t place_of(const Diagram& diagram, const std::string& part) {
  const auto found = std::find_if(diagram.parts().begin(), diagram.parts().end(),
                                  [&](const DiagramPart& p) { return p.name == part; });
  return static_cast<std::size_t>(found - diagram.parts().begin());
}

}  // namespace

TooManyRows::TooManyRows(Tick t) : std::runtime_error("too many rows"), reached(t) {}

WaveformRecorder::WaveformRecorder(const Scenario& scenario, const Diagram& diagram, std::size_t most_rows,
                                   std::function<void(Tick)> progress)
    : diagram_(diagram), most_rows_(most_rows), progress_(std::move(progress)) {
  const auto add = [this](Signal signal, Course course) {
    if (!is_shown(signal)) return;
    w_.signals.push_back(std::move(signal));
    courses_.push_back(std::move(course));
  };
  for (std::size_t n = 0; n < diagram.nets().size(); ++n) {
    add(net_signal(diagram.nets()[n]), [n](const double*, Evaluator& system) { return system.net_voltage(n); });
  }
  for (const ScenarioLine& line : scenario.lines) {
    if (line.kind != LineKind::logic) continue;
    const std::size_t p = place_of(diagram, scenario.parts[line.from.part].name);
    const DiagramPart& part = diagram.parts()[p];
    const LineOutput& driver = part.table->line_outputs[line.from.port];
    add(logic_signal(line.name), [p, &part, &driver](const double*, Evaluator& system) {
      double level = 0;
      driver.write(system.model(p), system.view(p), &level);
      return level >= 0.5 ? 1.0 : 0.0;
    });
  }
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    const auto& outputs = part.table->outputs;
    for (const Output& output : outputs) {
      add(output_signal(part.name, output), [p, &part, &output](const double*, Evaluator& system) {
        return output.value(system.model(p), system.view(p));
      });
    }
    for (std::size_t s = 0; s < part.table->states.size(); ++s) {
      const State& state = part.table->states[s];
      const auto same = [&](const Output& output) { return output.name == state.name; };
      if (!state.fast || std::any_of(outputs.begin(), outputs.end(), same)) continue;
      add(state_signal(part.name, state), [place = part.state + s](const double* x, Evaluator&) { return x[place]; });
    }
    for (std::size_t m = 0; m < part.table->margins.size(); ++m) {
      const auto& pins = part.table->pins;
      const auto pin = std::find_if(pins.begin(), pins.end(),
                                    [&](const Pin& one) { return one.name == part.table->margins[m].pin; });
      const int net = pin == pins.end() ? -1 : part.nets[static_cast<std::size_t>(pin - pins.begin())];
      if (net >= 0) levels_.push_back({p, m, static_cast<std::size_t>(net)});
    }
  }
}

void WaveformRecorder::on_step(Tick t, const double* state, Evaluator& system) {
  if (progress_) progress_(t);
  row(t, state, system);
}

void WaveformRecorder::on_happening(const Happening& h, const double* state, Evaluator& system) {
  // What is told with the first of an instant is the system before it.
  if (w_.marks.empty() || w_.marks.back().time != h.time) {
    // A step that ended there, before its events, is the row before them.
    if (w_.times.back() == h.time) {
      w_.times.pop_back();
      w_.values.resize(w_.values.size() - w_.signals.size());
    }
    if (w_.times.empty() || w_.times.back() < h.time - 1) row(h.time - 1, state, system);
  }
  w_.marks.push_back({h.time, h.part_name(), h.event_name(), h.event ? h.event->meaning : h.what});
}

void WaveformRecorder::row(Tick t, const double* state, Evaluator& system) {
  const std::size_t width = w_.signals.size();
  if (!w_.times.empty() && w_.times.back() == t) {
    w_.values.resize(w_.values.size() - width);
  } else {
    if (w_.times.size() == most_rows_) throw TooManyRows(t);
    w_.times.push_back(t);
  }
  for (const Course& course : courses_) {
    const double value = course(state, system);
    w_.values.push_back(value);
  }
  look_at_thresholds(system);
}

void WaveformRecorder::look_at_thresholds(Evaluator& system) {
  for (Level& level : levels_) {
    if (level.seen) continue;
    const DiagramPart& part = diagram_.parts()[level.part];
    const Margin& margin = part.table->margins[level.margin];
    const double distance = margin.value(system.model(level.part), system.view(level.part));
    if (!std::isfinite(distance)) continue;
    level.seen = true;
    w_.thresholds.push_back({level.net, system.net_voltage(level.net) - distance, part.name + ": " + margin.label});
  }
}

Waveforms WaveformRecorder::finish() { return std::exchange(w_, {}); }

}  // namespace overwinter
