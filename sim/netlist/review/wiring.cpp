#include <algorithm>
#include <set>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/loads/load.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/schottky.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/port_reference.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

class WiringReview {
 public:
  explicit WiringReview(const Scenario& s)
      : s_(s), feeds_(s, Feeds::Through::protectors), bare_(s, Feeds::Through::wires) {}

  std::vector<DesignFinding> read() {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      const ScenarioPart& part = s_.parts[p];
      if (const auto* controller = as<Controller>(part)) look_at(p, *controller);
      if (const auto* load = as<Load>(part)) look_at(p, *load);
      if (as<LinearCharger>(part)) look_at_charger(p);
      if (as<Boost>(part)) look_at_boost(p);
      if (as<Protector>(part)) look_at_protector(p);
      if (as<Schottky>(part)) look_at_diode(p);
      if (as<Panel>(part)) look_at_panel(p);
      if (as<Clock>(part)) look_at_clock(p);
    }
    return std::move(findings_);
  }

 private:
  const std::string& name(std::size_t part) const { return s_.parts[part].name; }
  void add(const std::string& rule, std::size_t part, std::string text, std::string suggestion) {
    findings_.push_back({rule, {name(part)}, std::move(text), std::move(suggestion)});
  }
  void turned_round(std::size_t part, const std::string& what, const std::string& a, const std::string& b) {
    add("part-turned-round", part, name(part) + " is turned round: " + what,
        name(part) + "." + a + " and " + name(part) + "." + b + " exchanged");
  }

  bool leads_somewhere(std::size_t part, const std::string& output) const {
    const auto port = index_of(s_.parts[part].table->line_outputs, output);
    return std::any_of(s_.lines.begin(), s_.lines.end(), [&](const ScenarioLine& line) {
      return line.from.part == part && line.from.port == *port && !line.to.empty();
    });
  }

  void look_at(std::size_t p, const Controller& controller) {
    for (const LineOutput& output : s_.parts[p].table->line_outputs) {
      const std::vector<std::string> phases = controller.phases_driving(output.name);
      if (phases.empty() || leads_somewhere(p, output.name)) continue;
      add("output-leads-nowhere", p,
          name(p) + " turns " + output.name + " on in " + listed(phases) +
              ", but no line leads from it: a load without an enable line is on all the time",
          "a line {from: " + name(p) + "." + output.name + ", to: LOAD.enable}");
    }
    const auto supply = feeds_.supply(feeds_.of(p, "supply"));
    const Voltage bears = controller.parameters().maximum_supply;
    if (supply && bears < supply->highest) {
      add("supply-above-maximum", p,
          name(p) + " bears a supply of " + volts(bears) + ", but " + supply->text + ": it can be damaged",
          "a supply of at most " + volts(bears));
    }
    const Voltage starts = controller.parameters().brownout_threshold + controller.parameters().brownout_hysteresis;
    const Voltage needs = std::max(controller.parameters().minimum_supply, starts);
    if (supply && supply->highest < needs) {
      add("supply-below-start", p, name(p) + " starts at " + volts(needs) + ", but " + supply->text + ": it never does",
          "a supply above " + volts(needs));
    }
    const bool clock =
        std::any_of(s_.parts.begin(), s_.parts.end(), [](const ScenarioPart& o) { return as<Clock>(o); });
    if (!clock) {
      add("no-clock", p,
          "no clock wakes " + name(p) + ": it wakes when its supply returns, and the policy's intervals have no effect",
          "a part of model clock whose interrupt drives a switch");
    }
  }

  void look_at(std::size_t p, const Load& load) {
    const auto supply = feeds_.supply(feeds_.of(p, "plus"));
    const Voltage needs = load.parameters().minimum_supply;
    if (load.parameters().kind == LoadKind::resistance || !supply || needs <= supply->highest) return;
    add("supply-below-minimum", p,
        name(p) + " needs " + volts(needs) + " (minimum_supply), but " + supply->text +
            ": below that it is taken as a resistor, which draws less",
        "a supply above " + volts(needs) + ", or the minimum_supply of what the load feeds");
  }

  void look_at_charger(std::size_t p) {
    const std::size_t in = feeds_.of(p, "in"), out = feeds_.of(p, "out");
    if (feeds_.is_cell(in) && !feeds_.is_cell(out)) {
      turned_round(p, "its in is on the cell's side, its out is not, so that it charges nothing", "in", "out");
    }
  }

  void look_at_boost(std::size_t p) {
    if (!feeds_.is_cell(feeds_.of(p, "out")) || feeds_.is_cell(feeds_.of(p, "in"))) return;
    turned_round(p, "its out is on the cell's side, its in is not, so that it feeds nothing", "in", "out");
  }

  void look_at_protector(std::size_t p) {
    if (!bare_.is_cell(bare_.of(p, "pack")) || bare_.is_cell(bare_.of(p, "cell"))) return;
    turned_round(p, "its pack is on the cell's side, its cell is not, so that it looks at the wrong side", "pack",
                 "cell");
  }

  /// A diode between a panel's negative and its positive end is a bypass, and points there rightly.
  void look_at_diode(std::size_t p) {
    if (feeds_.on_ground(p, "anode")) return;
    const std::size_t anode = feeds_.of(p, "anode"), cathode = feeds_.of(p, "cathode");
    std::string blocked;
    for (std::size_t other = 0; other < s_.parts.size(); ++other) {
      if (!as<Panel>(s_.parts[other])) continue;
      const std::size_t plus = feeds_.of(other, "plus");
      if (plus == anode || feeds_.of(other, "minus") == anode) return;
      if (plus == cathode) blocked = name(other);
    }
    if (blocked.empty()) return;
    turned_round(p, "its cathode is on " + blocked + ", so that the panel delivers nothing through it", "anode",
                 "cathode");
  }

  /// From the panel through diodes, forwards, to the cell.
  void look_at_panel(std::size_t p) {
    std::set<std::size_t> reached = {feeds_.of(p, "plus")};
    for (std::size_t known = 0; known != reached.size();) {
      known = reached.size();
      for (std::size_t other = 0; other < s_.parts.size(); ++other) {
        if (!as<Schottky>(s_.parts[other]) || !reached.count(feeds_.of(other, "anode"))) continue;
        reached.insert(feeds_.of(other, "cathode"));
      }
    }
    if (std::none_of(reached.begin(), reached.end(), [&](std::size_t g) { return feeds_.is_cell(g); })) return;
    add("panel-past-charger", p,
        name(p) + " feeds the cell past any charger: nothing ends the charge, and an overcharged lithium cell can burn",
        "a charger between the panel's diode and the cell");
  }

  void look_at_clock(std::size_t p) {
    if (feeds_.on_ground(p, "interrupt")) {
      add("alarm-tied-to-ground", p, name(p) + ".interrupt is tied to gnd, so that its alarm switches nothing on",
          "a line {from: " + name(p) + ".interrupt, to: SWITCH.gate}");
    }
    const double span = static_cast<double>(days_since_epoch(s_.to) - days_since_epoch(s_.from) + 1) * 86400;
    const Duration first = as<Clock>(s_.parts[p])->parameters().first_alarm;
    if (first.si() < span) return;
    add("first-alarm-after-span", p,
        name(p) + " has its first alarm " + fitting_text(first.si(), unit_of<Duration>("h")) +
            " after the start, when the span is over",
        "an earlier first_alarm, or a longer span");
  }

  const Scenario& s_;
  const Feeds feeds_, bare_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_wiring(const Scenario& scenario) { return WiringReview(scenario).read(); }

}  // namespace overwinter
