#include "sim/why/knobs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/loads/load.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/capacitor.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/document.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

namespace {

constexpr double larger = 10, much_larger = 100, tiny = 0.01, small = 0.1, half = 0.5;
constexpr double lowest_protector = 2.0;        // V, see knobs.hpp
constexpr double longest_interval = 7 * 86400;  // s
constexpr double before_the_end = 0.9;          // of the window: an interval counts from the end of a wake

/// A number and its unit as the scenario has them.
std::string written(double value, const std::string& unit) {
  return fmt::format("{:.10g}{}{}", value + 0.0, unit == "1" ? "" : " ", unit == "1" ? "" : unit);
}

class KnobList {
 public:
  KnobList(const Scenario& scenario, const Snapshot* moment, std::optional<double> window)
      : s_(scenario), moment_(moment), window_(window) {}

  std::vector<Knob> all() {
    each<Cell>([&](const ScenarioPart& p, const Cell& m) {
      factor("capacity", p, m, "capacity", larger);
      highest_ = m.parameters().open_circuit_voltage.y().back();
    });
    panels();
    each<Resistor>([&](const ScenarioPart& p, const Resistor& m) {
      if (m.parameters().resistance <= wire_at_most) factor("resistance", p, m, "resistance", tiny);
    });
    each<PowerMonitor>(
        [&](const ScenarioPart& p, const PowerMonitor& m) { factor("resistance", p, m, "shunt", tiny); });
    each<Protector>(
        [&](const ScenarioPart& p, const Protector& m) { factor("inner resistance", p, m, "resistance", tiny); });
    each<Cell>([&](const ScenarioPart& p, const Cell& m) { cell_resistance(p, m); });
    for (const double times : {much_larger, tiny}) {
      each<Capacitor>(
          [&](const ScenarioPart& p, const Capacitor& m) { factor("capacitor", p, m, "capacitance", times); });
      each<Boost>(
          [&](const ScenarioPart& p, const Boost& m) { factor("capacitor", p, m, "output_capacitance", times); });
    }
    each<Boost>([&](const ScenarioPart& p, const Boost& m) { factor("threshold", p, m, "lockout", half); });
    each<Protector>([&](const ScenarioPart& p, const Protector& m) {
      const double now = m.parameters().overdischarge_voltage.si();
      if (now > lowest_protector) factor("threshold", p, m, "overdischarge_voltage", lowest_protector / now);
    });
    each<Controller>([&](const ScenarioPart& p, const Controller& m) {
      factor("threshold", p, m, m.parameters().brownout_detector ? "brownout_threshold" : "minimum_supply", half);
    });
    each<Controller>([&](const ScenarioPart& p, const Controller& m) { phases(p, m); });
    each<Load>([&](const ScenarioPart& p, const Load& m) {
      const bool resistive = m.parameters().kind == LoadKind::resistance;
      const char* const keys[] = {"resistance", "current", "power"};
      factor("load", p, m, keys[static_cast<std::size_t>(m.parameters().kind)], resistive ? much_larger : tiny);
    });
    policy();
    choices();
    return std::move(all_);
  }

 private:
  template <class M, class Visit>
  void each(Visit&& visit) {
    for (const ScenarioPart& part : s_.parts) {
      if (const M* m = as<M>(part)) visit(part, *m);
    }
  }

  /// A quantity of the field, at the path, between its value and so many times that; nothing where it is zero.
  void add(const std::string& kind, const std::string& path, const Field& field, const void* parameters, double times,
           double step = 0) {
    const std::optional<double> si = field.get_number(parameters);
    if (!si || *si == 0) return;
    const std::string unit = field.unit.text;
    const double now = in_unit(*si, field.unit);
    all_.push_back({kind, path, unit, now, now * times, step, {}, [path, unit](double v) {
                      return std::vector<Override>{{path, written(v, unit)}};
                    }});
  }
  template <class M>
  void factor(const std::string& kind, const ScenarioPart& part, const M& model, const std::string& key, double times) {
    if (part.name.find(' ') != std::string::npos) return;  // a line's pull-up
    add(kind, part.name + "." + key, *part.table->field(key), &model.parameters(), times);
  }

  void panels() {
    std::vector<Knob> single;
    each<Panel>([&](const ScenarioPart& p, const Panel& m) {
      const PanelParameters& of = m.parameters();
      const bool label = of.label_current.has_value();
      const double watts = label ? (*of.label_current * *of.label_voltage).si()
                                 : (*of.maximum_power_current * *of.maximum_power_voltage).si();
      std::vector<std::pair<std::string, double>> currents;  // path, mA at the present power
      for (const char* key : {"label_current", "short_circuit_current", "maximum_power_current"}) {
        const Field& field = *p.table->field(key);
        if (const std::optional<double> si = field.get_number(&of)) {
          currents.emplace_back(p.name + "." + key, in_unit(*si, field.unit));
        }
      }
      single.push_back(
          {"panel", p.name + " (rated power)", "W", watts, watts * larger, 0, {}, [currents, watts](double w) {
             std::vector<Override> set;
             for (const auto& [path, ma] : currents) set.push_back({path, written(ma * w / watts, "mA")});
             return set;
           }});
    });
    if (single.size() > 1) {
      double sum = 0;
      for (const Knob& k : single) sum += k.now;
      all_.push_back({"panel", "all panels (rated power)", "W", sum, sum * larger, 0, {}, [single, sum](double w) {
                        std::vector<Override> set;
                        for (const Knob& k : single) {
                          for (Override& o : k.set(k.now * w / sum)) set.push_back(std::move(o));
                        }
                        return set;
                      }});
    }
    all_.insert(all_.end(), single.begin(), single.end());
  }

  /// Of all three curves, as the series resistance at the moment, or else at half charge.
  void cell_resistance(const ScenarioPart& p, const Cell& m) {
    const CellParameters cell = m.parameters();
    const double now = moment_ ? moment_->series : cell.series_resistance(half);
    if (!(now > 0)) return;
    const std::string name = p.name;
    const ModelTable* table = p.table;
    all_.push_back({"inner resistance",
                    name + " (series resistance and pairs)",
                    "ohm",
                    now,
                    now * small,
                    0,
                    {},
                    [cell, name, table, now](double ohms) {
                      std::vector<Override> set;
                      for (const char* key : {"series_resistance", "pair_1_resistance", "pair_2_resistance"}) {
                        const Field& field = *table->field(key);
                        CellParameters scaled = cell;
                        const Curve& curve = *field.get_curve(&cell);
                        std::vector<double> y = curve.y();
                        for (double& r : y) r *= ohms / now;
                        field.set_curve(&scaled, Curve(curve.x(), y, field.interpolation, field.outside));
                        set.push_back({name + "." + key, value_text(field, &scaled)});
                      }
                      return set;
                    }});
  }

  void phases(const ScenarioPart& p, const Controller& m) {
    const Field& rows = *p.table->field("phases");
    const bool by_themselves = stands_as_list(p.name, rows.key);
    for (const ControllerPhase& phase : m.parameters().phases) {
      const std::string path = p.name + ".phases[" + phase.name + "].";
      for (const Field& column : rows.columns) {
        if (column.key != "current" && column.key != "power" && column.key != "duration") continue;
        const std::size_t before = all_.size();
        add("phase", path + column.key, column, &phase, tiny);
        if (by_themselves || all_.size() == before) continue;
        const auto row = static_cast<std::size_t>(&phase - m.parameters().phases.data());
        const double unit = *column.get_number(&phase) / all_.back().now;
        all_.back().set = [list = p.name + "." + rows.key, &rows, &column, row, unit,
                           all = m.parameters()](double v) mutable {
          column.set_number(&all.phases[row], v * unit);
          return std::vector<Override>{{list, value_text(rows, &all)}};
        };
      }
    }
  }

  /// False where a part's list is its class's.
  bool stands_as_list(const std::string& part, const std::string& key) const {
    Faults unused;
    const auto document = Document::parse(s_.path, s_.inputs.front().text, unused);
    override_values(*document, s_.overrides, unused);
    const Node::Entry* at = document->root().find("parts");
    for (const std::string& next : {part, key}) at = at ? at->value.find(next) : nullptr;
    return at && at->value.is_sequence();
  }

  /// What the firmware does or writes into a register.
  static bool is_of_firmware(const ScenarioPart& part, const Field& field) {
    return (as<Controller>(part) && (field.key == "clears_flag" || field.key == "counts_from")) ||
           (as<Clock>(part) && field.key == "alarm_match");
  }

  void choices() {
    for (const ScenarioPart& part : s_.parts) {
      if (!part.parameters) continue;  // a line's pull-up
      for (const Field& field : part.table->fields) {
        if (field.of_the_law || (field.kind != FieldKind::flag && field.kind != FieldKind::choice)) continue;
        const std::optional<double> now = field.get_number(part.parameters.get());
        if (!now) continue;
        const std::vector<std::string> values =
            field.kind == FieldKind::flag ? std::vector<std::string>{"false", "true"} : field.choices;
        const std::string path = part.name + "." + field.key, &as_is = values.at(static_cast<std::size_t>(*now));
        const Remedy remedy = is_of_firmware(part, field) ? Remedy::firmware : Remedy::datasheet;
        for (const std::string& instead : values) {
          if (instead == as_is || (field.key == "brownout_detector" && instead == "false")) continue;
          all_.push_back({"choice", path, "", 0, 0, 0, Knob::Choice{as_is, instead, remedy}, [path, instead](double) {
                            return std::vector<Override>{{path, instead}};
                          }});
        }
      }
    }
  }

  void policy() {
    if (!s_.policy) return;
    const std::vector<PolicyRow>& rows = s_.policy->rows();
    std::size_t row = rows.size() - 1;
    for (std::size_t i = rows.size(); i-- > 0;) {
      if (moment_ && std::llround(rows[i].every.si()) == std::llround(moment_->interval)) row = i;
    }
    const std::vector<Field>& fields = Policy::fields();
    const auto named = [](const std::vector<Field>& all, const std::string& key) {
      return *std::find_if(all.begin(), all.end(), [&](const Field& f) { return f.key == key; });
    };
    const Field every = named(named(fields, "table").columns, "every"),
                below = named(named(fields, "table").columns, "below");
    const bool table = rows.size() > 1 || rows[row].below;
    const std::string path = table ? fmt::format("policy.table[{}].", s_.policy->place(row) + 1) : "policy.";
    const double seconds = rows[row].every.si(), minute = 60;
    double times = std::max(larger, longest_interval / seconds);
    if (window_) times = std::min(times, before_the_end * *window_ / seconds);
    if (times > 1) {
      add("policy", path + "every", every, &rows[row], times,
          in_unit(seconds >= 60 * minute   ? minute
                  : seconds >= 10 * minute ? minute / 10
                                           : 1,
                  every.unit));
    }
    if (!rows[row].below) return;
    const double now = rows[row].below->si();
    const double next = row + 1 < rows.size() && rows[row + 1].below ? rows[row + 1].below->si() - 0.001 : highest_;
    if (next > now) add("policy", path + "below", below, &rows[row], next / now);
  }

  const Scenario& s_;
  const Snapshot* moment_;
  const std::optional<double> window_;  ///< s
  double highest_ = 0;                  ///< V, of the cell's open-circuit voltage
  std::vector<Knob> all_;
};

}  // namespace

std::vector<Knob> knobs_of(const Scenario& scenario, const Snapshot* moment, std::optional<double> window) {
  return KnobList(scenario, moment, window).all();
}

double with_margin(const Knob& knob, double found, double margin) {
  const double value = knob.now + (found - knob.now) * (1 + margin);
  if (!(knob.step > 0)) return std::stod(fmt::format("{:.4g}", value));
  const double whole = found > knob.now ? std::ceil(value / knob.step - 1e-9) : std::floor(value / knob.step + 1e-9);
  return whole * knob.step;
}

std::vector<Override> merged(std::vector<Override> given, const std::vector<Override>& more) {
  for (const Override& o : more) {
    const auto same = std::find_if(given.begin(), given.end(), [&](const Override& g) { return g.path == o.path; });
    if (same == given.end()) {
      given.push_back(o);
    } else {
      *same = o;
    }
  }
  return given;
}

}  // namespace overwinter
