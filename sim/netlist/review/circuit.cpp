#include "sim/netlist/review/circuit.hpp"

#include <algorithm>
#include <limits>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/loads/load.hpp"
#include "models/look_up.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "sim/netlist/port_reference.hpp"
#include "sim/netlist/review/finding.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

/// Of what conducts between the first two pins of a part; none for any other part.
std::optional<Resistance> conducts(const ScenarioPart& part, bool switches) {
  if (const auto* r = as<Resistor>(part)) return r->parameters().resistance;
  if (const auto* m = as<PowerMonitor>(part)) return m->parameters().shunt;
  if (const auto* g = as<Protector>(part)) return g->parameters().resistance;
  const auto* s = as<PSwitch>(part);
  if (s && switches) return Resistance{s->parameters().on_resistance.y().back()};
  return std::nullopt;
}

double level_of(const Curve& daily, bool lowest) {
  if (daily.empty()) return 1;
  const auto [low, high] = std::minmax_element(daily.y().begin(), daily.y().end());
  return lowest ? *low : *high;
}

Current draw(const LoadParameters& p, double level, Voltage v) {
  const double low = p.minimum_supply.si();
  switch (p.kind) {
    case LoadKind::resistance:
      return level * v / *p.resistance;
    case LoadKind::current:
      return Current{demanded(Demand{Demand::current, level * p.current->si()}, v.si(), low)};
    case LoadKind::power:
      return Current{demanded(Demand{Demand::power, level * p.power->si()}, v.si(), low)};
  }
  return Current{};
}

}  // namespace

Circuit::Circuit(const Scenario& s, std::optional<std::size_t> open)
    : s_(s), awake_(s, Feeds::Through::protectors), asleep_(s.nets.size()) {
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    const std::optional<Resistance> r = conducts(s.parts[p], false);
    if (!r || *r > wire_at_most || p == open) continue;
    const std::string &a = s.parts[p].table->pins[0].name, &b = s.parts[p].table->pins[1].name;
    if (!on_ground(p, a) && !on_ground(p, b)) asleep_.join(net(p, a), net(p, b));
  }
  const std::optional<std::size_t> cell = first<Cell>();
  if (!cell) return;
  ranges_[asleep(*cell, "plus")] = {awake_.cell_at_its_lowest()->highest, awake_.cell_at_its_highest()->highest, *cell};
  for (std::size_t known = 0; known != ranges_.size();) {
    known = ranges_.size();
    if (const auto fed = open ? range(net(*open, "in")) : std::nullopt) ranges_.insert({asleep(*open, "out"), *fed});
    for (std::size_t p = 0; p < s.parts.size(); ++p) {
      const Boost* boost = as<Boost>(s.parts[p]);
      if (!boost || driven(p, "enable") || !ranges_.count(asleep(p, "in"))) continue;
      const Voltage v = boost->parameters().output_voltage;
      ranges_.insert({asleep(p, "out"), {v, v, p}});
    }
  }
}

std::optional<Circuit::Range> Circuit::range(std::size_t net) const {
  const auto found = ranges_.find(asleep(net));
  return found == ranges_.end() ? std::nullopt : std::optional<Range>(found->second);
}

std::optional<Circuit::Path> Circuit::path(std::size_t from, std::size_t to) const {
  constexpr double far = std::numeric_limits<double>::infinity();
  std::vector<double> reached(s_.nets.size(), far);
  std::vector<std::vector<std::string>> way(s_.nets.size());
  reached[from] = 0;
  // As many rounds as there are nets: Bellman 1958, Quart. Appl. Math. 16, 87-90.
  for (std::size_t round = 0; round < s_.nets.size(); ++round) {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      const std::optional<Resistance> r = conducts(s_.parts[p], true);
      if (!r) continue;
      std::size_t a = net(p, s_.parts[p].table->pins[0].name), b = net(p, s_.parts[p].table->pins[1].name);
      if (reached[b] < reached[a]) std::swap(a, b);
      if (reached[a] + r->si() >= reached[b]) continue;
      reached[b] = reached[a] + r->si();
      way[b] = way[a];
      way[b].push_back(name(p));
    }
  }
  if (reached[to] == far) return std::nullopt;
  return Path{Resistance{reached[to]}, way[to]};
}

std::optional<Circuit::Path> Circuit::from_cell(std::size_t part, const std::string& pin) const {
  const std::optional<std::size_t> cell = first<Cell>();
  if (!cell) return std::nullopt;
  std::optional<Path> there = path(net(*cell, "plus"), net(part, pin));
  const std::optional<Path> back = path(net(part, "ground"), net(*cell, "minus"));
  if (!there || !back) return std::nullopt;
  there->resistance += back->resistance;
  there->parts.insert(there->parts.end(), back->parts.begin(), back->parts.end());
  return there;
}

bool Circuit::driven(std::size_t part, const std::string& input) const {
  const auto port = index_of(s_.parts[part].table->line_inputs, input);
  return std::any_of(s_.lines.begin(), s_.lines.end(), [&](const ScenarioLine& line) {
    return std::any_of(line.to.begin(), line.to.end(), [&](PortRef to) { return to.part == part && to.port == *port; });
  });
}

bool Circuit::on_in(std::size_t load, std::size_t controller, std::size_t phase) const {
  if (!driven(load, "enable")) return true;
  const auto& phases = as<Controller>(s_.parts[controller])->parameters().phases;
  if (phase >= phases.size()) return false;
  const auto port = index_of(s_.parts[load].table->line_inputs, "enable");
  for (const ScenarioLine& line : s_.lines) {
    if (line.from.part != controller) continue;
    const std::string& output = s_.parts[controller].table->line_outputs[line.from.port].name;
    for (const PortRef to : line.to) {
      if (to.part != load || to.port != *port) continue;
      return phases[phase].high(output.back() - '1');
    }
  }
  return false;
}

Power Circuit::power_of(std::size_t load, Voltage v) const {
  const LoadParameters& p = as<Load>(s_.parts[load])->parameters();
  return v * draw(p, level_of(p.daily, false), v);
}

std::vector<Circuit::Burst> Circuit::bursts(std::size_t boost) const {
  const std::size_t fed = awake_.of(boost, "out");
  const Voltage v = as<Boost>(s_.parts[boost])->parameters().output_voltage;
  const auto with_loads = [&](Burst burst, std::optional<std::size_t> controller, std::size_t phase) {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      if (as<Load>(s_.parts[p]) && awake_.of(p, "plus") == fed &&
          (controller ? on_in(p, *controller, phase) : !driven(p, "enable"))) {
        burst.power = burst.power + power_of(p, v);
      }
      const auto* monitor = as<PowerMonitor>(s_.parts[p]);
      if (monitor && awake_.of(p, "supply") == fed)
        burst.power = burst.power + v * monitor->parameters().supply_current;
    }
    return burst;
  };
  const std::optional<std::size_t> controller = first<Controller>();
  if (!controller || awake_.of(*controller, "supply") != fed) return {with_loads({}, std::nullopt, 0)};
  const ControllerParameters& c = as<Controller>(s_.parts[*controller])->parameters();
  std::vector<Burst> all = {with_loads({"boot", v * c.boot_current, c.boot_time}, controller, c.phases.size())};
  for (std::size_t i = 0; i < c.phases.size(); ++i) {
    const ControllerPhase& phase = c.phases[i];
    const Power own = phase.current ? v * *phase.current : phase.power.value_or(Power{});
    all.push_back(with_loads({phase.name, own, phase.duration}, controller, i));
  }
  return all;
}

Circuit::Burst Circuit::largest_burst(std::size_t boost) const {
  const std::vector<Burst> all = bursts(boost);
  return *std::max_element(all.begin(), all.end(), [](const Burst& a, const Burst& b) { return a.power < b.power; });
}

std::vector<Circuit::Drain> Circuit::drains(std::size_t net, Voltage v) const {
  std::vector<Drain> all;
  const std::size_t here = asleep(net);
  for (std::size_t p = 0; p < s_.parts.size(); ++p) {
    const ScenarioPart& part = s_.parts[p];
    const auto on = [&](const char* pin) { return asleep(p, pin) == here; };
    if (const auto* load = as<Load>(part); load && on("plus") && !driven(p, "enable")) {
      const LoadParameters& l = load->parameters();
      all.push_back({part.name, draw(l, level_of(l.daily, true), v)});
    } else if (const auto* clock = as<Clock>(part); clock && on("supply")) {
      all.push_back({part.name, clock->parameters().supply_current});
    } else if (const auto* guard = as<Protector>(part); guard && on("cell")) {
      all.push_back({part.name, guard->parameters().consumption});
    } else if (const auto* charger = as<LinearCharger>(part); charger && on("out")) {
      all.push_back({part.name, charger->parameters().reverse_leakage});
    } else if (const auto* monitor = as<PowerMonitor>(part); monitor && on("supply")) {
      const PowerMonitorParameters& m = monitor->parameters();
      const Demand demand{Demand::current, m.supply_current.si()};
      all.push_back({part.name, Current{demanded(demand, v.si(), m.minimum_supply.si())}});
    } else if (const auto* controller = as<Controller>(part); controller && on("supply")) {
      const ControllerParameters& c = controller->parameters();
      const bool reset = c.brownout_detector && v < c.brownout_threshold;
      all.push_back({part.name, reset ? c.reset_current : c.idle_current});
    } else if (const auto* boost = as<Boost>(part); boost && on("in")) {
      const BoostParameters& b = boost->parameters();
      const bool runs = !driven(p, "enable") && v >= b.lockout + b.lockout_hysteresis;
      all.push_back({part.name, runs ? b.quiescent_enabled : b.quiescent_disabled});
      const std::optional<Range> out = range(this->net(p, "out"));
      if (!runs || !out || out->source != p) continue;
      std::vector<Drain> behind = drains(this->net(p, "out"), b.output_voltage);
      if (b.divider_resistance) behind.push_back({part.name + "'s divider", b.output_voltage / *b.divider_resistance});
      const Power total = b.output_voltage * sum(behind);
      if (!(total > Power{})) continue;
      const double factor = input_current(b, total, v) / sum(behind);
      for (const Drain& d : behind) all.push_back({d.part, factor * d.current});
    }
  }
  return all;
}

Current input_current(const BoostParameters& b, Power power, Voltage input) {
  return power / (look_up(b.efficiency, input.si(), (power / b.output_voltage).si()) * input);
}

Resistance series_resistance(const Cell& cell, double charge, Temperature t) {
  double x[Cell::state_count] = {};
  x[Cell::charge] = charge * cell.parameters().capacity.si();
  x[Cell::temperature] = t.si();
  View view;
  view.x = x;
  return cell.resistances(view).series;
}

Current sum(const std::vector<Circuit::Drain>& drains) {
  Current total{};
  for (const Circuit::Drain& d : drains) total += d.current;
  return total;
}

std::string listed(const std::vector<Circuit::Drain>& drains) {
  std::vector<Circuit::Drain> sorted = drains;
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const Circuit::Drain& a, const Circuit::Drain& b) { return a.current > b.current; });
  std::vector<std::string> words;
  for (const Circuit::Drain& d : sorted) {
    if (d.current < 0.05 * sum(drains)) break;
    words.push_back(d.part + " " + about(d.current, "A"));
  }
  return listed(words);
}

}  // namespace overwinter
