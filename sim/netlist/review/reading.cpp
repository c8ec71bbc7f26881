#include "models/paths/power_monitor.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {

/// A reading at rest is spread by its step and by twice the noise's standard deviation to either side (95 % of normal
/// numbers: textbook; rounding: Bennett 1948, see models/reading.hpp). A row's hysteresis below that is no hysteresis.
/// The offset shifts all rows alike and counts where it is more than the narrowest row. (A monitor's current reading
/// reaches no firmware here, so that its offset against the current of sleep is not looked at.)
std::vector<DesignFinding> review_readings(const Scenario& s) {
  std::vector<DesignFinding> all;
  if (!s.policy || !s.policy->reads_voltage()) return all;
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
  return all;
}

}  // namespace overwinter
