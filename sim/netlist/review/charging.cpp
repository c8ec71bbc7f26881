#include <algorithm>

#include "models/converters/linear_charger.hpp"
#include "models/paths/protector.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/port_reference.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

class ChargingReview {
 public:
  explicit ChargingReview(const Scenario& s) : s_(s), c_(s) {}

  std::vector<DesignFinding> read() {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      const LinearCharger* charger = as<LinearCharger>(s_.parts[p]);
      if (!charger) continue;
      for (const ScenarioPart& other : s_.parts) {
        if (const Cell* cell = as<Cell>(other)) look_at_cell(p, charger->parameters(), other.name, cell->parameters());
        if (const Protector* guard = as<Protector>(other)) {
          look_at_protector(p, charger->parameters(), other.name, guard->parameters());
        }
      }
      look_at_frost(p, charger->parameters());
      look_at_precharge(p, charger->parameters());
    }
    return std::move(findings_);
  }

 private:
  const std::string& name(std::size_t part) const { return s_.parts[part].name; }
  void add(const std::string& rule, std::vector<std::string> parts, std::string text, std::string suggestion) {
    findings_.push_back({rule, std::move(parts), std::move(text), std::move(suggestion)});
  }

  void look_at_cell(std::size_t p, const LinearChargerParameters& charger, const std::string& cell,
                    const CellParameters& c) {
    if (!c.charge_limit || charger.charge_voltage <= *c.charge_limit) return;
    add("charge-voltage-above-cell", {name(p), cell},
        name(p) + " charges to " + volts(charger.charge_voltage) + ", but " + cell + " bears no more than " +
            volts(*c.charge_limit) + ": overcharging a lithium cell can start a fire; follow the cell's datasheet",
        "a charger of at most " + volts(*c.charge_limit));
  }

  void look_at_protector(std::size_t p, const LinearChargerParameters& charger, const std::string& guard,
                         const ProtectorParameters& g) {
    if (charger.charge_voltage < g.overcharge_voltage) return;
    add("overcharge-trip-below-charge", {name(p), guard},
        guard + " stops charging at " + volts(g.overcharge_voltage) + ", but " + name(p) + " charges to " +
            volts(charger.charge_voltage) + ": it would trip at the end of every full charge",
        "an overcharge_voltage above the charger's charge_voltage");
  }

  /// Lithium plating below 0 degC: common practice, as in the JEITA guideline's temperature window.
  void look_at_frost(std::size_t p, const LinearChargerParameters& charger) {
    const auto port = index_of(s_.parts[p].table->line_inputs, "temperature");
    const bool told = std::any_of(s_.lines.begin(), s_.lines.end(), [&](const ScenarioLine& line) {
      return std::any_of(line.to.begin(), line.to.end(), [&](PortRef to) { return to.part == p && to.port == *port; });
    });
    if (!told) {
      add("charges-in-frost", {name(p)},
          name(p) +
              " is not told the cell's temperature, so that it charges in frost too, which damages a lithium cell",
          "a line {from: CELL.temperature, to: " + name(p) + ".temperature}");
    } else if (charger.cold_limit < celsius(0)) {
      add("charges-in-frost", {name(p)},
          name(p) + " charges down to " + quantity_text(charger.cold_limit.si(), unit_of<Temperature>("degC")) +
              ": below 0 degC a charge plates lithium, which damages the cell for good",
          "cold_limit: 0 degC, unless the cell's datasheet allows less");
    }
  }

  /// What stays on at the charger's output takes the pre-charge before the cell does: below precharge_voltage the cell
  /// then never climbs (a frequent complaint; Kirchhoff's current law).
  void look_at_precharge(std::size_t p, const LinearChargerParameters& charger) {
    const std::vector<Circuit::Drain> drains = c_.drains(c_.net(p, "out"), charger.precharge_voltage);
    if (!c_.range(c_.net(p, "out")) || sum(drains) < charger.precharge_current) return;
    add("precharge-below-load", {name(p)},
        name(p) + ": below " + volts(charger.precharge_voltage) + " it gives no more than " +
            about(charger.precharge_current, "A") + ", and " + about(sum(drains), "A") +
            " are drawn from its output all the time (" + listed(drains) +
            "): a cell that is once empty is never charged again",
        "a precharge_current well above " + about(sum(drains), "A") +
            ", or these loads behind a switch or on an enable line");
  }

  const Scenario& s_;
  const Circuit c_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_charging(const Scenario& scenario) { return ChargingReview(scenario).read(); }

}  // namespace overwinter
