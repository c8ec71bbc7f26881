#include "sim/revive/attempts.hpp"

#include <algorithm>

#include "models/control/controller.hpp"
#include "sim/netlist/requirements.hpp"

namespace overwinter {

Attempts::Attempts(const Diagram& diagram) : diagram_(diagram) {
  const std::vector<DiagramPart>& parts = diagram.parts();
  const auto wakes = [](const DiagramPart& p) { return has_event(*p.table, EventRole::wake_completed); };
  const auto is_switched = [&](const DiagramPart& p) {
    return std::any_of(diagram.lines().begin(), diagram.lines().end(), [&](const LineLink& l) {
      const std::size_t end = p.line + p.table->line_inputs.size();
      return l.kind == LineKind::logic && wakes(parts[l.part]) && l.input >= p.line && l.input < end;
    });
  };
  for (const DiagramPart& part : parts) {
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      const FlowKind kind = part.table->flows[f].kind;
      const bool its_own = wakes(part) && (kind == FlowKind::delivered || kind == FlowKind::lost);
      const bool its_load = kind == FlowKind::delivered && is_switched(part);
      if (its_own || its_load) flows_.push_back(diagram.states() + part.flow + f);
    }
  }
}

double Attempts::taken(const double* state) const {
  double sum = 0;
  for (const std::size_t place : flows_) sum += state[place];
  return sum;
}

void Attempts::begin(const Context& c) {
  at_begin_ = at_start_ = taken(c.state.data());
  for (const DiagramPart& part : diagram_.parts()) {
    if (!dynamic_cast<const Controller*>(part.model.get())) continue;
    const std::int32_t mode = c.memory[part.memory + Controller::mode];
    running_ = mode == Controller::booting || mode == Controller::running;
    waiting_ = mode == Controller::reset;
    if (running_) ++starts_;
  }
}

double Attempts::energy(const Context& now) const {
  return before_first_.value_or(taken(now.state.data())) - at_begin_;
}

void Attempts::on_happening(const Happening& h, const double* state, Evaluator&) {
  if (!h.event) return;
  switch (h.event->role) {
    case EventRole::power_came:
      waiting_ = true;
      break;
    case EventRole::wake_begins:
      ++starts_;
      running_ = true;
      waiting_ = false;
      at_start_ = taken(state);
      break;
    case EventRole::wake_completed:
      running_ = false;
      if (completed_.empty()) before_first_ = at_start_;
      completed_.push_back(h.time);
      break;
    case EventRole::power_gone:
      if (waiting_) ++failed_;
      waiting_ = running_ = false;
      break;
    case EventRole::brown_out:
      running_ = false;
      ++failures_;
      break;
    case EventRole::cut:
      ++failures_;
      break;
    default:
      break;
  }
}

void Attempts::on_leap(const Leap& leap) {
  for (const Leap::Part* part : {&leap.first, &leap.then}) {
    const auto count = [&](EventRole role) {
      return static_cast<double>(std::count_if(part->events.begin(), part->events.end(), [&](const CycleEvent& e) {
        return diagram_.parts()[e.part].table->events[e.event].role == role;
      }));
    };
    const double starts = count(EventRole::wake_begins), came = count(EventRole::power_came);
    starts_ += part->times * starts;
    failed_ += part->times * std::max(0.0, came - starts);
    failures_ += part->times * (count(EventRole::cut) + count(EventRole::brown_out));
  }
}

}  // namespace overwinter
