#include "sim/engine/diagram.hpp"

#include <algorithm>
#include <map>

#include "sim/engine/joints.hpp"

namespace overwinter {

Diagram::Diagram(const Scenario& scenario) {
  const JointedNetlist netlist = with_joints(scenario);
  std::vector<std::size_t> order(netlist.parts.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return netlist.parts[a].name < netlist.parts[b].name; });
  std::vector<std::size_t> position(order.size());
  for (std::size_t i = 0; i < order.size(); ++i) position[order[i]] = i;

  for (const std::size_t i : order) {
    const ScenarioPart& from = netlist.parts[i];
    DiagramPart part;
    part.name = from.name;
    part.model = from.model;
    part.table = from.table;
    part.parameters = from.parameters;
    part.nets.assign(part.pins(), -1);
    parts_.push_back(std::move(part));
  }

  std::map<std::string, const ScenarioNet*> by_name;
  for (const ScenarioNet& net : netlist.nets) by_name[net.name] = &net;
  for (const auto& [name, net] : by_name) {
    const int index = name == "gnd" ? -1 : static_cast<int>(nets_.size());
    if (index >= 0) nets_.push_back(name);
    for (const PinRef& pin : net->pins) parts_[position[pin.part]].nets[pin.pin] = index;
  }

  join_parallel_parts();
  unknowns_ = nets_.size();
  std::size_t local = 0;
  for (DiagramPart& part : parts_) {
    const ModelTable& t = *part.table;
    part.unknown = unknowns_;
    part.local = local;
    part.state = states_;
    part.memory = memories_;
    part.drive = drives_;
    part.flow = flows_;
    part.event = events_;
    part.line = line_numbers_;
    part.alarm = alarms_;
    part.held = holds_;
    unknowns_ += t.unknowns.size();
    local += part.width();
    states_ += t.states.size();
    memories_ += static_cast<std::size_t>(t.memories);
    holds_ += static_cast<std::size_t>(t.holds);
    drives_ += static_cast<std::size_t>(t.drives);
    flows_ += t.flows.size();
    events_ += t.events.size();
    alarms_ += static_cast<std::size_t>(t.alarms);
    for (const LineInput& input : t.line_inputs) line_numbers_ += width(input.kind);
  }

  for (const DiagramPart& part : parts_) {
    for (const int net : part.nets) place_.push_back(static_cast<std::uint32_t>(net < 0 ? unknowns_ : net));
    for (std::size_t i = 0; i < part.table->unknowns.size(); ++i) {
      place_.push_back(static_cast<std::uint32_t>(part.unknown + i));
    }
  }

  for (const ScenarioLine& line : scenario.lines) {
    for (const PortRef& to : line.to) {
      const DiagramPart& listener = parts_[position[to.part]];
      std::size_t input = listener.line;
      for (std::size_t i = 0; i < to.port; ++i) input += width(listener.table->line_inputs[i].kind);
      lines_.push_back({input, position[line.from.part], line.from.port, line.kind});
    }
  }
  std::sort(lines_.begin(), lines_.end(), [](const LineLink& a, const LineLink& b) { return a.input < b.input; });
  link_harvest();

  for (std::size_t f = 0; f < scenario.faults.size(); ++f) {
    DiagramFault fault{scenario.faults[f], -1, {}};
    for (std::size_t p = 0; p < parts_.size(); ++p) {
      if (parts_[p].name == fault.what.part) fault.part = static_cast<int>(p);
    }
    for (const std::size_t joint : netlist.joints_of[f]) fault.joints.push_back(position[joint]);
    faults_.push_back(std::move(fault));
  }
}

/// Parts of one class on the same nets learn of each other.
void Diagram::join_parallel_parts() {
  std::map<std::pair<const ModelTable*, std::vector<int>>, std::vector<std::size_t>> alike;
  for (std::size_t p = 0; p < parts_.size(); ++p) alike[{parts_[p].table, parts_[p].nets}].push_back(p);
  for (const auto& [where, group] : alike) {
    if (group.size() < 2) continue;
    std::vector<std::shared_ptr<const Model>> alone;
    std::vector<const Model*> all;
    for (const std::size_t p : group) {
      alone.push_back(parts_[p].model);
      all.push_back(parts_[p].model.get());
    }
    for (std::size_t i = 0; i < group.size(); ++i) {
      if (auto joined = alone[i]->in_parallel(all, i)) parts_[group[i]].model = std::move(joined);
    }
  }
}

void Diagram::link_harvest() {
  const auto find_flow = [](const DiagramPart& part, FlowKind kind) -> int {
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      if (part.table->flows[i].kind == kind) return static_cast<int>(part.flow + i);
    }
    return -1;
  };
  std::vector<int> first_slot(parts_.size(), -1);
  std::vector<const Output*> cause(parts_.size(), nullptr);
  for (std::size_t p = 0; p < parts_.size(); ++p) {
    for (const Output& output : parts_[p].table->outputs) {
      if (output.name != parts_[p].table->refusal_output) continue;
      first_slot[p] = static_cast<int>(refused_.size());
      cause[p] = &output;
      for (const std::string& label : output.labels) refused_.push_back({parts_[p].name, label});
    }
  }
  int direct = -1;
  for (std::size_t p = 0; p < parts_.size(); ++p) {
    const int offered = find_flow(parts_[p], FlowKind::offered), taken = find_flow(parts_[p], FlowKind::source);
    if (offered < 0 || taken < 0) continue;
    HarvestLink link{p, static_cast<std::size_t>(offered), static_cast<std::size_t>(taken), 0, nullptr, -1};
    // Walk the nets from the panel through parts that decide nothing until a deciding part is met.
    std::vector<std::size_t> front = {p};
    std::vector<bool> seen(parts_.size(), false);
    seen[p] = true;
    while (!front.empty() && link.deciding_part < 0) {
      std::vector<std::size_t> next;
      for (std::size_t q = 0; q < parts_.size(); ++q) {
        if (seen[q]) continue;
        const bool touches = std::any_of(front.begin(), front.end(), [&](std::size_t f) {
          return std::any_of(parts_[f].nets.begin(), parts_[f].nets.end(), [&](int net) {
            return net >= 0 && std::find(parts_[q].nets.begin(), parts_[q].nets.end(), net) != parts_[q].nets.end();
          });
        });
        if (!touches) continue;
        seen[q] = true;
        next.push_back(q);
        if (first_slot[q] >= 0 && link.deciding_part < 0) link.deciding_part = static_cast<int>(q);
      }
      front = std::move(next);
    }
    if (link.deciding_part >= 0) {
      const auto decider = static_cast<std::size_t>(link.deciding_part);
      link.refused = static_cast<std::size_t>(first_slot[decider]);
      link.cause = cause[decider];
    } else {
      if (direct < 0) {
        direct = static_cast<int>(refused_.size());
        refused_.push_back({"", "operating point"});
      }
      link.refused = static_cast<std::size_t>(direct);
    }
    harvest_.push_back(link);
  }
}

std::string Diagram::unknown_name(std::size_t index) const {
  if (index < nets_.size()) return nets_[index];
  for (const DiagramPart& part : parts_) {
    if (index >= part.unknown && index < part.unknown + part.table->unknowns.size()) {
      return part.name + " " + part.table->unknowns[index - part.unknown].name;
    }
  }
  return {};
}

}  // namespace overwinter
