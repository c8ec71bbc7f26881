#include "sim/netlist/part_pairs.hpp"

#include "models/converters/linear_charger.hpp"
#include "models/paths/protector.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/policy_review.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/wiring_review.hpp"

namespace overwinter {
namespace {

std::string volts(Voltage v) { return quantity_text(v.si(), unit_of<Voltage>("V")); }

}  // namespace

std::vector<std::string> findings_of_pairs(const Scenario& scenario) {
  std::vector<std::string> findings;
  for (const ScenarioPart& one : scenario.parts) {
    const LinearCharger* charger = as<LinearCharger>(one);
    if (!charger) continue;
    const Voltage charge_voltage = charger->parameters().charge_voltage;
    for (const ScenarioPart& other : scenario.parts) {
      if (const Cell* cell = as<Cell>(other)) {
        const std::optional<Voltage> limit = cell->parameters().charge_limit;
        if (!limit || charge_voltage <= *limit) continue;
        findings.push_back(one.name + " charges to " + volts(charge_voltage) + ", but " + other.name +
                           " bears no more than " + volts(*limit) +
                           ": overcharging a lithium cell can start a fire; follow the cell's datasheet");
      }
      if (const Protector* protector = as<Protector>(other)) {
        const Voltage trip = protector->parameters().overcharge_voltage;
        if (charge_voltage < trip) continue;
        findings.push_back(other.name + " stops charging at " + volts(trip) + ", but " + one.name + " charges to " +
                           volts(charge_voltage) +
                           ": it would trip at the end of every full charge; its overcharge_voltage must be above the "
                           "charger's charge_voltage");
      }
    }
  }
  for (const auto& more : {findings_of_wiring(scenario), findings_of_policy(scenario)}) {
    findings.insert(findings.end(), more.begin(), more.end());
  }
  return findings;
}

}  // namespace overwinter
