#include "sim/revive/dead_states.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <stdexcept>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/storage/capacitor.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/replay/summary.hpp"

namespace overwinter {
namespace {

const std::vector<double> coarse_charges{0.005, 0.02, 0.05, 0.15, 0.40};
const std::vector<double> fine_charges{0.002, 0.005, 0.01, 0.02, 0.03, 0.05, 0.08, 0.15, 0.25, 0.40, 0.60};

template <class Named>
std::size_t index_of(const std::vector<Named>& list, const std::string& name) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const Named& n) { return n.name == name; });
  if (found == list.end()) throw std::logic_error("a table has no " + name);
  return static_cast<std::size_t>(found - list.begin());
}

std::optional<std::size_t> alarm_due_of(const ModelTable& table) {
  for (const Event& event : table.events) {
    if (event.role == EventRole::alarm_due && event.alarm >= 0) return static_cast<std::size_t>(event.alarm);
  }
  return std::nullopt;
}

/// The supply at which a controller runs, V.
double runs_from(const ControllerParameters& p) {
  return (p.brownout_detector ? p.brownout_threshold : p.minimum_supply).si();
}

}  // namespace

/// A part on its own, as it starts, and arranged.
struct DeadStates::Alone {
  Alone(const Diagram& diagram, std::size_t p) : part(diagram.parts()[p]), table(*part.table) {
    z.assign(part.width(), 0.0);
    x.assign(table.states.size(), 0.0);
    drive.assign(static_cast<std::size_t>(table.drives), 0.0);
    memory.assign(static_cast<std::size_t>(table.memories), 0);
    alarm.assign(static_cast<std::size_t>(table.alarms), never);
    std::size_t width_of_all = 0;
    for (const LineInput& input : table.line_inputs) width_of_all += width(input.kind);
    line.assign(width_of_all, std::numeric_limits<double>::quiet_NaN());
    for (const LineLink& link : diagram.lines()) {
      if (link.input >= part.line && link.input < part.line + width_of_all) line[link.input - part.line] = 0;
    }
    Writable w = writable();
    part.model->start(Ambient{}, w);
  }
  Writable writable() { return {x.data(), memory.data(), alarm.data(), {}}; }
  void arrange(const Way& way) {
    Writable w = writable();
    way.arrange(*part.model, w);
  }
  View view() const { return {z.data(), x.data(), memory.data(), drive.data(), nullptr, line.data()}; }
  bool stands(const Way& way) const { return way.stands(*part.model, view(), alarm.data()); }

  const DiagramPart& part;
  const ModelTable& table;
  std::vector<double> z, x, drive, line;
  std::vector<std::int32_t> memory;
  std::vector<Tick> alarm;
};

DeadStates::DeadStates(const Scenario& scenario, const Diagram& diagram, const std::vector<std::string>& dawns,
                       bool fine)
    : diagram_(diagram), cell_(cell_of(diagram)) {
  dimensions_.push_back({"dawn", dawns});
  subjects_.push_back({Kind::dawn, std::nullopt, 0, {}, {}});
  const std::vector<double>& charges = fine ? fine_charges : coarse_charges;
  Dimension charge{"charge", {}};
  for (const double share : charges) charge.values.push_back(fmt::format("{:g} %", 100 * share));
  dimensions_.push_back(std::move(charge));
  subjects_.push_back({Kind::charge, cell_, 0, charges, {}});
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const Model* model = diagram.parts()[p].model.get();
    if (dynamic_cast<const Controller*>(model)) controller_ = p;
    if (dynamic_cast<const Clock*>(model)) clock_ = p;
    add_conditions(p);
  }
  if (controller_) add_supply(scenario, *controller_);
}

void DeadStates::add_conditions(std::size_t p) {
  const ModelTable& table = *diagram_.parts()[p].table;
  for (std::size_t c = 0; c < table.conditions.size(); ++c) {
    const Condition& condition = table.conditions[c];
    Dimension dimension{diagram_.parts()[p].name + " " + condition.name, {}};
    Subject subject{Kind::condition, p, c, {}, {}};
    for (std::size_t w = 0; w < condition.ways.size(); ++w) {
      Alone alone(diagram_, p);
      alone.arrange(condition.ways[w]);
      if (!alone.stands(condition.ways[w])) continue;
      dimension.values.push_back(condition.ways[w].name);
      subject.ways.push_back(w);
    }
    dimensions_.push_back(std::move(dimension));
    subjects_.push_back(std::move(subject));
  }
}

/// Charge can be left only where a capacitor holds it.
void DeadStates::add_supply(const Scenario& scenario, std::size_t controller) {
  const DiagramPart& part = diagram_.parts()[controller];
  const int net = part.nets[index_of(part.table->pins, "supply")];
  const auto holds_it = [&](const DiagramPart& other) {
    return dynamic_cast<const Capacitor*>(other.model.get()) && other.nets[index_of(other.table->pins, "plus")] == net;
  };
  if (net < 0 || std::none_of(diagram_.parts().begin(), diagram_.parts().end(), holds_it)) return;
  const ControllerParameters& p = static_cast<const Controller&>(*part.model).parameters();
  const double phantom = (p.reset_rearm.si() + runs_from(p)) / 2;
  const Feeds feeds(scenario, Feeds::Through::protectors);
  const auto supply = feeds.supply(feeds.of(controller, "supply"));
  const double full = std::min(supply ? supply->highest.si() : p.maximum_supply.si(), p.maximum_supply.si());
  dimensions_.push_back(
      {part.name + " supply", {"none", fmt::format("phantom {:.2g} V", phantom), fmt::format("full {:.2g} V", full)}});
  subjects_.push_back({Kind::supply, controller, 0, {0.0, phantom, full}, {}});
}

void DeadStates::keep(std::size_t d, const std::vector<std::size_t>& values) {
  const auto kept = [&](auto& list) {
    if (list.empty()) return;
    auto all = std::move(list);
    list.clear();
    for (const std::size_t v : values) list.push_back(std::move(all[v]));
  };
  kept(dimensions_[d].values);
  kept(subjects_[d].numbers);
  kept(subjects_[d].ways);
}

std::vector<DeadState> DeadStates::all() const {
  std::vector<DeadState> states;
  DeadState state(dimensions_.size(), 0);
  for (;;) {
    states.push_back(state);
    std::size_t d = dimensions_.size();
    while (d > 0 && ++state[d - 1] == dimensions_[d - 1].values.size()) state[--d] = 0;
    if (d == 0) return states;
  }
}

std::string DeadStates::contradiction(const DeadState& state) const {
  bool finished = false, flag_set = false;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    if (part.table->conditions.empty()) continue;
    Alone alone(diagram_, p);
    for (std::size_t d = 0; d < subjects_.size(); ++d) {
      const Subject& s = subjects_[d];
      if (s.kind == Kind::condition && s.part == p) {
        alone.arrange(part.table->conditions[s.condition].ways[s.ways[state[d]]]);
      }
    }
    if (part.table->contradiction) {
      const std::string why = part.table->contradiction(*part.model, alone.view(), alone.alarm.data());
      if (!why.empty()) return part.name + ": " + why;
    }
    if (controller_ == p) finished = alone.memory[Controller::mode] == Controller::idle;
    if (clock_ == p) flag_set = alone.memory[Clock::flag] != 0;
  }
  if (finished && flag_set &&
      static_cast<const Controller&>(*diagram_.parts()[*controller_].model).parameters().clears_flag) {
    return diagram_.parts()[*controller_].name + ": it clears the flag as it finishes its wake";
  }
  return {};
}

Simulator::Arrange DeadStates::arranged(const DeadState& state, Tick alarm) const {
  return [this, state, alarm](const DiagramPart& part, Writable& w) {
    const auto p = static_cast<std::size_t>(&part - diagram_.parts().data());
    for (std::size_t d = 0; d < subjects_.size(); ++d) {
      const Subject& s = subjects_[d];
      if (s.kind == Kind::condition && s.part == p) {
        part.table->conditions[s.condition].ways[s.ways[state[d]]].arrange(*part.model, w);
      } else if (s.kind == Kind::charge && s.part == p) {
        const Charge capacity = static_cast<const Cell&>(*part.model).parameters().capacity;
        w.x[index_of(part.table->states, "charge")] = s.numbers[state[d]] * capacity.si();
      } else if (s.kind == Kind::supply && dynamic_cast<const Capacitor*>(part.model.get())) {
        const DiagramPart& controller = diagram_.parts()[*s.part];
        if (part.nets[index_of(part.table->pins, "plus")] ==
            controller.nets[index_of(controller.table->pins, "supply")]) {
          w.x[index_of(part.table->states, "voltage")] = s.numbers[state[d]];
        }
      }
    }
    const auto due = alarm_due_of(*part.table);
    if (due && w.alarm[*due] != never) w.alarm[*due] = alarm;
  };
}

/// Of the controller's supply: 0 below where a power-on reset is armed, 2 from where it runs.
std::size_t DeadStates::supply_band(double volts) const {
  const auto& p = static_cast<const Controller&>(*diagram_.parts()[*controller_].model).parameters();
  return volts < p.reset_rearm.si() ? 0 : volts < runs_from(p) ? 1 : 2;
}

Stand DeadStates::stand(const DeadState& given, const Context& c, Evaluator& system) const {
  Stand stand(given.begin(), given.end());
  for (std::size_t d = 0; d < subjects_.size(); ++d) {
    const Subject& s = subjects_[d];
    if (!s.part) continue;
    const DiagramPart& part = diagram_.parts()[*s.part];
    if (s.kind == Kind::condition) {
      const std::vector<Way>& ways = part.table->conditions[s.condition].ways;
      stand[d].reset();
      for (std::size_t i = 0; i < s.ways.size(); ++i) {
        if (ways[s.ways[i]].stands(*part.model, system.view(*s.part), c.alarm.data() + part.alarm)) stand[d] = i;
      }
    } else if (s.kind == Kind::supply) {
      const View view = system.view(*s.part);
      const double volts = view.z[index_of(part.table->pins, "supply")] - view.z[index_of(part.table->pins, "ground")];
      const std::size_t band = supply_band(volts);
      stand[d].reset();
      for (std::size_t i = 0; i < s.numbers.size(); ++i) {
        if (supply_band(s.numbers[i]) == band) stand[d] = i;
      }
    }
  }
  return stand;
}

}  // namespace overwinter
