#include <algorithm>

#include "models/paths/protector.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

// A quarter of what lies between a half-full cell and the cut-off: class assumption. (Common practice for wiring, 3 %
// of the supply, is about an eighth of it for a cell of 3.7 V.)
constexpr double notable_share = 0.25;

/// Where the discharge ends: the converter's lockout, or where a protector on the way trips, whichever comes first.
struct End {
  Voltage at{};
  std::string text;
};

End end_of_discharge(const Circuit& c, std::size_t boost, const Circuit::Path& way) {
  const BoostParameters& b = as<Boost>(c.scenario().parts[boost])->parameters();
  End end{b.lockout, "the lockout of " + c.name(boost)};
  for (const ScenarioPart& part : c.scenario().parts) {
    const auto* guard = as<Protector>(part);
    if (!guard || std::find(way.parts.begin(), way.parts.end(), part.name) == way.parts.end()) continue;
    if (guard->parameters().overdischarge_voltage > end.at) {
      end = {guard->parameters().overdischarge_voltage, "the trip of " + part.name};
    }
  }
  return end;
}

}  // namespace

/// Ohm's law over everything between the cell and a converter in the phase of the greatest power.
std::vector<DesignFinding> review_burst_paths(const Scenario& s) {
  const Circuit c(s);
  std::vector<DesignFinding> all;
  const std::optional<std::size_t> cell = c.first<Cell>();
  if (!cell) return all;
  const Voltage half{as<Cell>(s.parts[*cell])->parameters().open_circuit_voltage(0.5)};
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    const Boost* boost = as<Boost>(s.parts[p]);
    if (!boost) continue;
    const auto way = c.from_cell(p, "in");
    if (!way) continue;
    const End end = end_of_discharge(c, p, *way);
    const Circuit::Burst burst = c.largest_burst(p);
    const Voltage margin = half - end.at;
    const Current current = input_current(boost->parameters(), burst.power, half);
    const Voltage drop = way->resistance * current;
    if (!(margin > Voltage{}) || drop <= notable_share * margin) continue;
    all.push_back({"burst-path-drop", way->parts,
                   listed(way->parts) + " on the way to " + c.name(p) + (way->parts.size() > 1 ? " take " : " takes ") +
                       about(way->resistance, "ohm") + " x " + about(current, "A") + " = " + about(drop, "V") +
                       (burst.phase.empty() ? "" : " in " + burst.phase) + ", " +
                       quantity_text(std::round(100 * (drop / margin)) / 100, unit_of<double>("%")) + " of the " +
                       about(margin, "V") + " between the half-full cell (" + about(half, "V") + ") and " + end.text +
                       " (" + volts(end.at) + ")",
                   "at most " + about(notable_share * margin / current, "ohm") +
                       " in all: thicker or shorter leads, "
                       "a smaller shunt, or less power in that phase"});
  }
  return all;
}

}  // namespace overwinter
