#include "models/paths/power_monitor.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

/// A reading at rest is spread by its step and by twice the noise's standard deviation to either side (95 % of normal
/// numbers: textbook; rounding: Bennett 1948, see models/reading.hpp). A row's hysteresis below that is no hysteresis.
/// The offset shifts all rows alike and counts where it is more than the narrowest row.
void look_at_rows(const Scenario& s, std::vector<DesignFinding>& all) {
  if (!s.policy || !s.policy->reads_voltage()) return;
  for (const ScenarioLine& line : s.lines) {
    const ScenarioPart& part = s.parts[line.from.part];
    const auto* monitor = as<PowerMonitor>(part);
    if (line.kind != LineKind::reading || !monitor) continue;
    const PowerMonitorParameters& m = monitor->parameters();
    const Voltage spread = m.voltage_step + 4 * m.voltage_noise;
    if (s.policy->hysteresis() < spread) {
      all.push_back({"hysteresis-below-reading",
                     {"policy", part.name},
                     "the policy's hysteresis of " + volts(s.policy->hysteresis()) + " is less than the " +
                         about(spread, "V") + " by which " + part.name + "'s reading varies at rest (step " +
                         about(m.voltage_step, "V") + " + 4 x noise " + about(m.voltage_noise, "V") +
                         "): near a row's end the interval changes from wake to wake",
                     "hysteresis above " + about(spread, "V")});
    }
    const std::vector<PolicyRow>& rows = s.policy->rows();
    const Voltage off = m.voltage_offset < Voltage{} ? -m.voltage_offset : m.voltage_offset;
    for (std::size_t i = 1; i + 1 < rows.size(); ++i) {
      const Voltage width = *rows[i].below - *rows[i - 1].below;
      if (off <= width) continue;
      all.push_back({"offset-wider-than-row",
                     {"policy", part.name},
                     part.name + "'s offset of " + about(m.voltage_offset, "V") + " is more than the " +
                         about(width, "V") + " between the policy's rows below " + volts(*rows[i - 1].below) +
                         " and below " + volts(*rows[i].below) + ": it goes by the wrong row",
                     "rows further apart, or a monitor of less offset"});
      break;
    }
  }
}

/// Offset over shunt, the datasheet's terms (models/paths/power_monitor.hpp), against what flows through the shunt
/// while the instrument sleeps. Only of a monitor that is on then: one that is switched off with the instrument cannot
/// be meant to see it.
void look_at_sleep(const Scenario& s, std::vector<DesignFinding>& all) {
  const Circuit c(s);
  const std::optional<std::size_t> cell = c.first<Cell>();
  if (!cell) return;
  const Voltage half{as<Cell>(s.parts[*cell])->parameters().open_circuit_voltage(0.5)};
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    const auto* monitor = as<PowerMonitor>(s.parts[p]);
    const auto fed = monitor ? c.range(c.net(p, "in")) : std::nullopt;
    if (!fed || !c.range(c.net(p, "supply"))) continue;
    const PowerMonitorParameters& m = monitor->parameters();
    const Voltage here = fed->source == *cell ? half : fed->highest;
    const std::vector<Circuit::Drain> behind = Circuit(s, p).drains(c.net(p, "out"), here);
    const Voltage size = m.shunt_offset < Voltage{} ? -m.shunt_offset : m.shunt_offset;
    const Current offset = size / m.shunt, sleep = sum(behind);
    if (!(sleep > Current{}) || offset <= sleep) continue;
    all.push_back({"shunt-offset-hides-sleep",
                   {c.name(p)},
                   c.name(p) + "'s shunt offset of " + about(size, "V") + " over " + about(m.shunt, "ohm") + " is " +
                       about(offset, "A") + ", more than the " + about(sleep, "A") +
                       " that flow through it in sleep (" + listed(behind) + "): it shows its own offset",
                   "a shunt of at least " + about(size / sleep, "ohm") + ", or a monitor of less offset"});
  }
}

}  // namespace

std::vector<DesignFinding> review_readings(const Scenario& s) {
  std::vector<DesignFinding> all;
  look_at_rows(s, all);
  look_at_sleep(s, all);
  return all;
}

}  // namespace overwinter
