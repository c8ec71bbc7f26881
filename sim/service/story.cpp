#include "sim/service/story.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "models/control/controller.hpp"
#include "sim/netlist/feeds.hpp"

namespace overwinter {

namespace {

constexpr double at_threshold = 2e-3;   // V; a delay has run while the quantity was no further above its threshold
constexpr double same_voltage = 1e-6;   // V; pin and quantity are the same one
constexpr double least_current = 1e-6;  // A; below it a resistance cannot be told

template <class Entries>
std::size_t index_of(const Entries& entries, const std::string& name) {
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (entries[i].name == name) return i;
  }
  throw std::logic_error("no output or flow " + name);
}

}  // namespace

StoryLog::StoryLog(const Scenario& scenario, const Diagram& diagram, const Service& service, Tick begin)
    : diagram_(diagram), service_(service), begin_(begin), next_midnight_(begin) {
  const Feeds feeds(scenario, Feeds::Through::protectors);
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    const auto named = std::find_if(scenario.parts.begin(), scenario.parts.end(),
                                    [&](const ScenarioPart& s) { return s.name == part.name; });
    std::vector<bool> sides;
    for (const Pin& pin : part.table->pins) {
      const auto in_scenario = static_cast<std::size_t>(named - scenario.parts.begin());
      const bool is_joint = named == scenario.parts.end();  // of a fault, no part of the scenario
      sides.push_back(!is_joint && feeds.is_cell(feeds.of(in_scenario, pin.name)));
    }
    cell_side_.push_back(std::move(sides));
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      const FlowKind kind = part.table->flows[f].kind;
      if (kind == FlowKind::delivered) users_.emplace_back(p, part.flow + f);
      if (kind == FlowKind::delivered || kind == FlowKind::lost) used_.push_back(part.flow + f);
    }
    if (part.table->name != "cell") continue;
    cell_ = p;
    in_ = part.flow + index_of(part.table->flows, "charge_in");
    out_ = part.flow + index_of(part.table->flows, "charge_out");
    const char* const names[read_count] = {"state_of_charge", "temperature", "voltage", "current", "series_resistance"};
    for (std::size_t i = 0; i < read_count; ++i) outputs_[i] = index_of(part.table->outputs, names[i]);
  }
}

double StoryLog::output(std::size_t which, Evaluator& system) const {
  const DiagramPart& cell = diagram_.parts()[cell_];
  return cell.table->outputs[outputs_[which]].value(system.model(cell_), system.view(cell_));
}

double StoryLog::spent(const double* state) const {
  double sum = 0;
  for (const std::size_t f : used_) sum += state[diagram_.states() + f];
  return sum;
}

Snapshot StoryLog::snapshot(Tick time, const std::string& part, const std::string& event, Evaluator& system) const {
  Snapshot s;
  s.time = time;
  s.part = part;
  s.event = event;
  s.charge = output(read_charge, system);
  s.temperature = output(read_temperature, system);
  s.voltage = output(read_voltage, system);
  s.current = -output(read_current, system);
  s.series = output(read_series, system);
  std::vector<double> flow(diagram_.integrals());
  system.flows(flow.data());
  for (const auto& [user, index] : users_) {
    if (flow[index] > 0) s.users.emplace_back(diagram_.parts()[user].name, flow[index]);
  }
  std::stable_sort(s.users.begin(), s.users.end(), [](const auto& a, const auto& b) { return a.second > b.second; });
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& of = diagram_.parts()[p];
    const auto* controller = dynamic_cast<const Controller*>(&system.model(p));
    if (!controller) continue;
    for (const Output& o : of.table->outputs) {
      const double value = o.value(system.model(p), system.view(p));
      if (o.name == "interval") s.interval = value;
      if (o.name == "mode" && s.doing.empty()) s.doing = o.labels.at(static_cast<std::size_t>(value));
      if (o.name != "phase" || value < 1) continue;
      s.doing = controller->parameters().phases[static_cast<std::size_t>(value) - 1].name;
      s.in_phase = true;
    }
  }
  return s;
}

std::optional<Snapshot::Crossed> StoryLog::crossed(const DiagramPart& part, const Snapshot& s,
                                                   Evaluator& system) const {
  const auto p = static_cast<std::size_t>(&part - diagram_.parts().data());
  const View& view = system.view(p);
  std::optional<Snapshot::Crossed> least;
  for (const Margin& m : part.table->margins) {
    const double value = m.value(system.model(p), view), limit = m.threshold(system.model(p));
    if (value <= at_threshold && (!least || value < least->reached - least->limit)) {
      least = Snapshot::Crossed{m.name, limit, limit + value, std::nullopt};
    }
  }
  if (!least || s.current < least_current) return least;
  for (std::size_t pin = 0; pin < part.pins(); ++pin) {
    if (!cell_side_[p][pin] || std::abs(view.z[pin] - least->reached) > same_voltage) continue;
    const double path = (s.voltage - least->reached) / s.current;  // (2)
    if (path >= 0) least->path = path;
  }
  return least;
}

/// Where a brown-out has begun, what is known of it so far.
void StoryLog::notice(Tick now, const double* state, Evaluator& system) {
  const std::size_t count = service_.brownouts().size();
  if (count < episodes_.size()) episodes_.resize(count);
  while (episodes_.size() < count) {
    Episode e;
    e.around = cuts_;
    e.around.insert(e.around.end(), strained_.begin(), strained_.end());
    e.around.push_back(snapshot(now, "", "", system));
    e.in = state[diagram_.states() + in_];
    e.out = state[diagram_.states() + out_];
    episodes_.push_back(std::move(e));
  }
}

void StoryLog::on_step(Tick reached, const double* state, Evaluator& system) {
  notice(reached, state, system);
  if (reached < next_midnight_) return;
  const Midnight now{output(read_charge, system), state[diagram_.states() + in_], state[diagram_.states() + out_]};
  for (; next_midnight_ <= reached; next_midnight_ += ticks_per_day) midnights_.push_back(now);
}

void StoryLog::on_happening(const Happening& h, const double* state, Evaluator& system) {
  notice(h.time, state, system);
  keep(h, system);
  if (!h.event) return;
  const EventRole role = h.event->role;
  const bool begins = role == EventRole::power_came || role == EventRole::wake_begins;
  if (begins && service_.in_brownout() && !starting_) {
    starting_ = true;
    spent_before_ = spent(state);
  }
  if ((role == EventRole::brown_out || role == EventRole::power_gone) && starting_) {
    starting_ = false;
    if (!episodes_.empty()) episodes_.back().energy_in_vain += spent(state) - spent_before_;
  }
  if (role != EventRole::wake_completed) return;
  starting_ = false;
  if (!episodes_.empty() && service_.brownouts().back().recovered == h.time) {
    episodes_.back().charge_back = output(read_charge, system);
  }
}

void StoryLog::keep(const Happening& h, Evaluator& system) {
  const EventRole role = h.event ? h.event->role : EventRole::limit;  // a collapse
  const std::string& part = h.part_name();
  const auto known = std::find_if(cuts_.begin(), cuts_.end(), [&](const Snapshot& s) { return s.part == part; });
  switch (role) {
    case EventRole::power_came:
    case EventRole::power_gone:
    case EventRole::wake_completed:
      strained_.clear();
      return;
    case EventRole::restored:
      if (known != cuts_.end()) cuts_.erase(known);
      return;
    case EventRole::cut: {
      const std::vector<ChainLink>& now = service_.cuts();
      if (known != cuts_.end() ||
          std::none_of(now.begin(), now.end(), [&](const ChainLink& c) { return c.part == part && c.time == h.time; }))
        return;
      break;
    }
    case EventRole::limit:
    case EventRole::brown_out:
    case EventRole::alarm_lost:
      break;
    default:
      return;
  }
  Snapshot s = snapshot(h.time, part, h.event ? h.event->name : "collapse of the network", system);
  if (h.part) s.crossed = crossed(*h.part, s, system);
  if (!episodes_.empty() && service_.brownouts().back().chain.back().time == h.time) {
    episodes_.back().around.push_back(s);
  }
  if (role == EventRole::cut) cuts_.push_back(std::move(s));
  if (role == EventRole::limit) strained_.push_back(std::move(s));
}

void StoryLog::on_leap(const Leap& leap) {
  if (!episodes_.empty() && service_.in_brownout() && !starting_) episodes_.back().energy_in_vain += leap.energy;
}

namespace {

/// Of what had happened around the beginning of a brown-out, what Story::moment wants.
Snapshot moment_of(const BrownOut& b, const std::vector<Snapshot>& around) {
  const Snapshot* first = nullptr;
  for (const ChainLink& link : b.chain) {
    for (const Snapshot& s : around) {
      if (s.time != link.time || s.part != link.part || s.event != link.event) continue;
      if (s.crossed) return s;
      if (!first) first = &s;
    }
  }
  if (first) return *first;
  return *std::find_if(around.begin(), around.end(),
                       [](const Snapshot& s) { return s.part.empty() && s.event.empty(); });
}

}  // namespace

std::vector<Story> StoryLog::finish(const ServiceRecord& record, const SunnyDays& sky, CivilDate from) const {
  std::vector<Story> stories;
  for (std::size_t n = 0; n < record.brownouts.size(); ++n) {
    const BrownOut& b = record.brownouts[n];
    Story story;
    if (n < episodes_.size()) {
      const Episode& e = episodes_[n];
      const Snapshot moment = moment_of(b, e.around);
      const auto day = static_cast<std::size_t>(std::max<Tick>(0, moment.time - begin_) / ticks_per_day);
      story.light = light_before(sky, from, day);
      const std::size_t since = story.light ? story.light->first : 0;
      if (since < midnights_.size()) {
        story.charge_before = midnights_[since].charge;
        story.charge_in = e.in - midnights_[since].in;
        story.charge_out = e.out - midnights_[since].out;
        story.days_since = static_cast<double>(moment.time - begin_) / ticks_per_day - static_cast<double>(since);
      }
      story.energy_in_vain = e.energy_in_vain;
      story.charge_back = e.charge_back;
      story.moment = moment;
    }
    if (!b.recovered) story.blocked = service_.cuts();
    stories.push_back(std::move(story));
  }
  return stories;
}

}  // namespace overwinter
