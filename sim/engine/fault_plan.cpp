#include "sim/engine/fault_plan.hpp"

#include <algorithm>
#include <set>
#include <stdexcept>
#include <string>

#include "models/paths/joint.hpp"

namespace overwinter {

namespace {

void change(void* parameters, const ModelTable& table, const DiagramFault& fault, Tick until) {
  if (!fault.joints.empty()) {
    static_cast<JointParameters*>(parameters)->resistance =
        fault.what.kind == open_fault ? broken_joint : solder_bridge;
    return;
  }
  FaultValues values = fault.what.values;
  values.until = until;
  find_fault(faults_of(table), fault.what.kind)->apply(parameters, values);
}

}  // namespace

FaultPlan::FaultPlan(const Diagram& diagram, Tick begin, Tick end) : diagram_(diagram) {
  const std::vector<DiagramFault>& faults = diagram.faults();
  std::set<Tick> bounds = {begin};
  for (const DiagramFault& fault : faults) {
    const Tick from = begin + fault.what.begin, to = fault.what.end == never ? never : begin + fault.what.end;
    times_.push_back({from, to >= end ? never : to});
    if (from < end) bounds.insert(from);
    if (to < end) bounds.insert(to);
  }
  for (const Tick at : bounds) {
    if (!periods_.empty()) periods_.back().end = at;
    FaultPeriod& period = periods_.emplace_back();
    period.begin = at;
    std::vector<std::vector<std::size_t>> on(diagram.parts().size());
    for (std::size_t f = 0; f < faults.size(); ++f) {
      const bool in_force = times_[f].begin <= at && at < times_[f].end;
      if (times_[f].begin == at) tell(period, faults[f], times_[f].end, true);
      if (times_[f].end == at) tell(period, faults[f], times_[f].end, false);
      if (!in_force) continue;
      period.in_force += (period.in_force.empty() ? "; faults in force: " : ", ") + text_of(faults[f].what);
      if (!faults[f].joints.empty()) {
        for (const std::size_t joint : faults[f].joints) on[joint].push_back(f);
      } else if (faults[f].part >= 0) {
        on[static_cast<std::size_t>(faults[f].part)].push_back(f);
      }
    }
    for (std::size_t p = 0; p < on.size(); ++p) period.models.push_back(model(p, on[p]));
  }
}

const Model* FaultPlan::model(std::size_t p, const std::vector<std::size_t>& faults) {
  const DiagramPart& part = diagram_.parts()[p];
  if (faults.empty()) return part.model.get();
  std::shared_ptr<const Model>& built = built_[{p, faults}];
  if (built) return built.get();
  const std::shared_ptr<void> parameters = part.table->copy_parameters(part.parameters.get());
  for (const std::size_t f : faults) change(parameters.get(), *part.table, diagram_.faults()[f], times_[f].end);
  std::vector<Finding> findings;
  built = part.table->build(parameters.get(), findings);
  if (!built) {
    throw std::logic_error(part.name + " cannot be built with its faults" +
                           (findings.empty() ? "" : ": " + findings.front().message));
  }
  return built.get();
}

void FaultPlan::tell(FaultPeriod& period, const DiagramFault& fault, Tick end, bool begins) {
  const FaultForm& form = *find_fault(
      fault.part < 0 ? all_faults() : faults_of(*diagram_.parts()[static_cast<std::size_t>(fault.part)].table),
      fault.what.kind);
  if (!begins) {
    tell(period, fault, form.kind + fault_over_suffix, "that fault is over", EventRole::fault_over);
    return;
  }
  const std::string details = details_of(fault.what);
  tell(period, fault, form.kind, "fault" + (details.empty() ? "" : " (" + details + ")") + ": " + form.meaning,
       EventRole::fault_begins);
  if (form.kind == clock_stopped && end == never) {
    tell(period, fault, "no alarm", "it has stopped, and does not go on before the span ends", EventRole::alarm_lost);
  }
}

void FaultPlan::tell(FaultPeriod& period, const DiagramFault& fault, std::string name, std::string meaning,
                     EventRole role) {
  Event& event = events_.emplace_back();
  event.name = std::move(name);
  event.meaning = std::move(meaning);
  event.role = role;
  period.turns.push_back({fault.part < 0 ? nullptr : &diagram_.parts()[static_cast<std::size_t>(fault.part)], &event});
}

}  // namespace overwinter
