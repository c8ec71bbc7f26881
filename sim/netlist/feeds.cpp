#include "sim/netlist/feeds.hpp"

#include <algorithm>

#include "models/converters/boost.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/port_reference.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {
namespace {

std::string volts(Voltage v) { return quantity_text(v.si(), unit_of<Voltage>("V")); }

bool carries_logic(const Scenario& s, const ScenarioNet& net) {
  return std::any_of(net.pins.begin(), net.pins.end(),
                     [&](PinRef p) { return s.parts[p.part].table->pins[p.pin].role != PinRole::power; });
}

}  // namespace

Feeds::Feeds(const Scenario& s, Through through) : scenario_(s), groups_(s.nets.size()) {
  for (const ScenarioPart& part : s.parts) nets_.emplace_back(part.table->pins.size());
  std::vector<bool> apart(s.nets.size());
  for (std::size_t n = 0; n < s.nets.size(); ++n) {
    if (s.nets[n].name == "gnd") ground_ = n;
    apart[n] = s.nets[n].name == "gnd" || carries_logic(s, s.nets[n]);
    for (const PinRef pin : s.nets[n].pins) nets_[pin.part][pin.pin] = n;
  }
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    const ScenarioPart& part = s.parts[p];
    if (as<Cell>(part)) cell_ = p;
    const bool protector = as<Protector>(part) && through == Through::protectors;
    const Resistor* resistor = as<Resistor>(part);
    const bool wire = resistor && resistor->parameters().resistance <= wire_at_most;
    if (!wire && !as<PowerMonitor>(part) && !as<PSwitch>(part) && !protector) continue;
    const std::size_t a = nets_[p][0], b = nets_[p][1];  // the first two pins of each are those of its path
    if (!apart[a] && !apart[b]) groups_.join(a, b);
  }
}

std::size_t Feeds::net(std::size_t part, const std::string& pin) const {
  return nets_[part][*index_of(scenario_.parts[part].table->pins, pin)];
}

std::optional<Feeds::Supply> Feeds::supply(std::size_t group) const {
  if (is_cell(group)) return cell_at_its_highest();
  std::optional<Supply> highest;
  for (std::size_t p = 0; p < scenario_.parts.size(); ++p) {
    const Boost* boost = as<Boost>(scenario_.parts[p]);
    if (!boost || of(p, "out") != group) continue;
    const Voltage v = boost->parameters().output_voltage;
    if (!highest || highest->highest < v) highest = Supply{scenario_.parts[p].name + " holds it at " + volts(v), v};
  }
  return highest;
}

std::optional<Feeds::Supply> Feeds::cell_at_its_highest() const {
  if (!cell_) return std::nullopt;
  const ScenarioPart& cell = scenario_.parts[*cell_];
  const Voltage full{as<Cell>(cell)->parameters().open_circuit_voltage(1.0)};
  Supply highest{cell.name + " is full at " + volts(full), full};
  for (std::size_t p = 0; p < scenario_.parts.size(); ++p) {
    const LinearCharger* charger = as<LinearCharger>(scenario_.parts[p]);
    if (!charger || charger->parameters().charge_voltage <= highest.highest) continue;
    const Voltage v = charger->parameters().charge_voltage;
    highest = {scenario_.parts[p].name + " charges " + cell.name + " to " + volts(v), v};
  }
  return highest;
}

std::optional<Feeds::Supply> Feeds::cell_at_its_lowest() const {
  if (!cell_) return std::nullopt;
  const ScenarioPart& cell = scenario_.parts[*cell_];
  for (const ScenarioPart& part : scenario_.parts) {
    const Protector* protector = as<Protector>(part);
    if (!protector) continue;
    const Voltage v = protector->parameters().overdischarge_voltage;
    return Supply{part.name + " cuts " + cell.name + " off at " + volts(v), v};
  }
  const Voltage empty{as<Cell>(cell)->parameters().open_circuit_voltage(0.0)};
  return Supply{cell.name + " is empty at " + volts(empty), empty};
}

}  // namespace overwinter
