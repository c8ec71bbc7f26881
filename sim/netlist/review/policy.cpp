#include <algorithm>
#include <optional>

#include "models/control/controller.hpp"
#include "models/paths/power_monitor.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

constexpr double rounding = 1e-9;  // V

std::string time_text(Duration d) { return fitting_text(d.si(), unit_of<Duration>("s")); }
std::string often(Duration d) { return "every " + fitting_text(d.si(), unit_of<Duration>("h")); }

class PolicyReview {
 public:
  explicit PolicyReview(const Scenario& s) : s_(s), rows_(s.policy->rows()), policy_(*s.policy) {}

  std::vector<DesignFinding> read() {
    look_at_order();
    look_at_hysteresis();
    if (reads_cell()) look_at_reach();
    for (const ScenarioPart& part : s_.parts) {
      if (const auto* controller = as<Controller>(part)) look_at_wake(controller->parameters());
    }
    return std::move(findings_);
  }

 private:
  void add(const std::string& rule, std::string text, std::string suggestion) {
    findings_.push_back({rule, {"policy"}, std::move(text), std::move(suggestion)});
  }
  Voltage below(std::size_t row) const { return *rows_[row].below; }
  std::string row_text(std::size_t row) const {
    return rows_[row].below ? "below " + volts(below(row)) : "from " + volts(below(row - 1)) + " up";
  }

  void look_at_order() {
    for (std::size_t i = 0; i + 1 < rows_.size(); ++i) {
      if (rows_[i].every >= rows_[i + 1].every) continue;
      add("policy-upside-down",
          "the policy wakes more often on an emptier cell: " + often(rows_[i].every) + " " + row_text(i) + ", " +
              often(rows_[i + 1].every) + " " + row_text(i + 1),
          "longer intervals in the lower rows");
    }
  }

  /// The narrowest row tells enough.
  void look_at_hysteresis() {
    std::optional<std::size_t> narrowest;
    for (std::size_t i = 1; i + 1 < rows_.size(); ++i) {
      if (!narrowest || width(i) < width(*narrowest)) narrowest = i;
    }
    if (!narrowest || policy_.hysteresis().si() <= width(*narrowest).si() + rounding) return;
    const std::size_t i = *narrowest;
    add("hysteresis-wider-than-row",
        "the policy's hysteresis of " + volts(policy_.hysteresis()) + " is wider than the " + volts(width(i)) +
            " between its rows below " + volts(below(i - 1)) + " and below " + volts(below(i)) +
            ": a recovering cell stays in the lower of them up to " + volts(below(i - 1) + policy_.hysteresis()),
        "hysteresis of at most " + volts(width(i)) + ", or rows further apart");
  }

  Voltage width(std::size_t row) const { return below(row) - below(row - 1); }

  /// Whether the controller is told a voltage of the cell's net; another voltage is compared with nothing here.
  bool reads_cell() const {
    const Feeds feeds(s_, Feeds::Through::protectors);
    return std::any_of(s_.lines.begin(), s_.lines.end(), [&](const ScenarioLine& line) {
      return line.kind == LineKind::reading && as<PowerMonitor>(s_.parts[line.from.part]) &&
             feeds.is_cell(feeds.of(line.from.part, "out"));
    });
  }

  void look_at_reach() {
    const auto high = Feeds(s_, Feeds::Through::protectors).cell_at_its_highest();
    const auto low = Feeds(s_, Feeds::Through::protectors).cell_at_its_lowest();
    for (std::size_t i = 0; i + 1 < rows_.size(); ++i) {
      if (below(i) <= low->highest) {
        add("row-never-holds", "the policy's row below " + volts(below(i)) + " never holds: " + low->text,
            "rows above " + volts(low->highest));
      } else if (below(i) >= high->highest) {
        add("row-never-holds", "the policy's rows above " + volts(below(i)) + " never hold: " + high->text,
            "rows below " + volts(high->highest));
        return;
      } else if ((below(i) + policy_.hysteresis()).si() >= high->highest.si() - rounding) {
        add("row-never-left",
            "once below " + volts(below(i)) + ", the policy stays " + often(rows_[i].every) +
                " for ever: with the hysteresis it leaves that row from " + volts(below(i) + policy_.hysteresis()) +
                " up, and " + high->text,
            "a lower row, or less hysteresis");
        return;
      }
    }
  }

  void look_at_wake(const ControllerParameters& p) {
    std::string sum = "boot " + time_text(p.boot_time);
    Duration wake = p.boot_time;
    for (const ControllerPhase& phase : p.phases) {
      sum += " + " + phase.name + " " + time_text(phase.duration);
      wake = wake + phase.duration;
    }
    const Duration shortest = policy_.shortest_interval();
    if (shortest >= wake || p.counts_from != CountsFrom::write) return;  // otherwise: review_alarms
    add("interval-below-wake",
        "the policy's interval of " + time_text(shortest) + " is shorter than the wake before it (" + sum + " = " +
            time_text(wake) + "): the instrument is awake most of the time, as the interval counts from the wake's end",
        "an interval well above " + time_text(wake) + ", or shorter phases");
  }

  const Scenario& s_;
  const std::vector<PolicyRow>& rows_;
  const Policy& policy_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_policy(const Scenario& scenario) {
  return scenario.policy ? PolicyReview(scenario).read() : std::vector<DesignFinding>{};
}

}  // namespace overwinter
