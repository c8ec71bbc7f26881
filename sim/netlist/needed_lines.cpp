#include "sim/netlist/needed_lines.hpp"

#include <algorithm>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

class NeededLines {
 public:
  NeededLines(const Document& d, const Node::Entry* lines, const ReadLines& read, const Wirable& wirable,
              Faults& faults)
      : d_(d), lines_(lines), read_(read), wirable_(wirable), faults_(faults) {}

  void check_readings() {
    each_silent(LineKind::reading, [&](const ReadPart& part, const std::string& input) {
      if (!part.table->set_policy) return;
      std::string from = source(LineKind::reading), before;
      if (from.empty()) {
        const ModelTable& monitor = maker(LineKind::reading);
        before = "add a part of model " + monitor.name + ", and ";
        from = "MONITOR." + output(monitor, LineKind::reading)->name;
      }
      faults_.add(d_.fault(*part.key,
                           "the policy goes by the voltage, but nothing tells it: " + input + " is in no line",
                           before + written("battery", from, input)));
    });
  }

  void check_clocks() {
    const std::string from = source(LineKind::bus);
    const auto clocks = std::count_if(wirable_.parts.begin(), wirable_.parts.end(), [](const ReadPart& part) {
      return part.table && has_event(*part.table, EventRole::alarm_due);
    });
    if (from.empty() || clocks > 1) return;  // of several clocks, a fault says that one is meant
    each_silent(LineKind::bus, [&](const ReadPart& part, const std::string& input) {
      faults_.add(d_.fault(*part.key, "nothing sets the clock's alarm: " + input + " is in no line",
                           written("bus", from, input)));
    });
  }

  void check_levels() {
    const std::string from = source(LineKind::logic);
    const auto idle = [&](const ReadPart& part, const std::string& input) {
      faults_.add(d_.fault(*part.key, "nothing drives " + input + ", so that " + part.name + " would do nothing",
                           written(part.name, from.empty() ? "PART.OUTPUT" : from, input)));
    };
    each_silent(LineKind::logic, idle, true);
  }

 private:
  /// Visits the line inputs of this kind that no line names, `needed` as their model says.
  template <class Visit>
  void each_silent(LineKind kind, Visit visit, bool needed = false) const {
    for (std::size_t p = 0; p < wirable_.parts.size(); ++p) {
      const ReadPart& part = wirable_.parts[p];
      if (!part.table) continue;
      for (std::size_t i = 0; i < part.table->line_inputs.size(); ++i) {
        const LineInput& input = part.table->line_inputs[i];
        if (input.kind != kind || input.needed != needed || read_.named_inputs.count({p, i})) continue;
        if (!read_.excuses.covers(part.name, input.name)) visit(part, part.name + "." + input.name);
      }
    }
  }

  /// An output of this kind, rather one that drives no line yet; empty where there is none.
  std::string source(LineKind kind) const {
    std::string taken;
    for (std::size_t p = 0; p < wirable_.parts.size(); ++p) {
      const ReadPart& part = wirable_.parts[p];
      if (!part.table) continue;
      for (std::size_t i = 0; i < part.table->line_outputs.size(); ++i) {
        if (part.table->line_outputs[i].kind != kind) continue;
        const std::string name = part.name + "." + part.table->line_outputs[i].name;
        const bool drives = std::any_of(read_.lines.begin(), read_.lines.end(), [&](const ScenarioLine& line) {
          return line.from.part == p && line.from.port == i;
        });
        if (!drives) return name;
        if (taken.empty()) taken = name;
      }
    }
    return taken;
  }

  /// The first output of this kind, or null.
  static const LineOutput* output(const ModelTable& table, LineKind kind) {
    const auto found = std::find_if(table.line_outputs.begin(), table.line_outputs.end(),
                                    [&](const LineOutput& o) { return o.kind == kind; });
    return found == table.line_outputs.end() ? nullptr : &*found;
  }

  /// A model of the catalogue with an output of this kind.
  static const ModelTable& maker(LineKind kind) {
    const auto& all = catalogue();
    return **std::find_if(all.begin(), all.end(), [&](const ModelTable* t) { return output(*t, kind); });
  }

  std::string written(const std::string& name, const std::string& from, const std::string& to) const {
    const std::string line = name + ": {from: " + from + ", to: " + to + "}";
    return lines_ ? line : "lines: {" + line + "}";
  }

  const Document& d_;
  const Node::Entry* lines_;
  const ReadLines& read_;
  const Wirable& wirable_;
  Faults& faults_;
};

}  // namespace

void check_needed_lines(const Document& d, const Node::Entry* lines, const ReadLines& read, const Wirable& wirable,
                        const Policy* policy, Faults& faults) {
  NeededLines needed(d, lines, read, wirable, faults);
  if (policy && policy->reads_voltage()) needed.check_readings();
  needed.check_clocks();
  needed.check_levels();
}

}  // namespace overwinter
