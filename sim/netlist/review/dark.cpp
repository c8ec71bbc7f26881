#include <algorithm>

#include "models/catalogue.hpp"
#include "models/paths/schottky.hpp"
#include "models/sources/panel.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const Temperature hot = celsius(60);   // a sunlit enclosure in summer: common practice
constexpr double night = 12 * 3600.0;  // s

/// Current (A) into the first pin of a part of two pins and one inner voltage, in the dark, at `v` between its pins
/// and no drop before its junction: the part's own law.
double dark_current(const ScenarioPart& part, Voltage v, double sign) {
  Ambient ambient;
  ambient.air = hot;
  std::vector<double> drive(static_cast<std::size_t>(part.table->drives));
  part.model->drive(ambient, drive.data());
  const double z[] = {sign * v.si(), 0, sign * v.si()};
  double f[3];
  View view;
  view.z = z;
  view.drive = drive.data();
  part.model->evaluate(view, f);
  return f[0];
}

}  // namespace

/// Reverse leakage of a Schottky junction rises e-fold in some 10 K (Richardson's law, Sze & Ng 2007, ch. 3); a charger
/// in between stops it. The panels behind diodes count as shorts, so that it is an upper bound.
std::vector<DesignFinding> review_dark(const Scenario& s) {
  const Circuit c(s);
  const std::optional<std::size_t> cell = c.first<Cell>();
  if (!cell) return {};
  const std::size_t plus = c.asleep(*cell, "plus");
  const CellParameters& p = as<Cell>(s.parts[*cell])->parameters();
  const Voltage v{p.open_circuit_voltage(0.5)};
  std::vector<std::string> through;
  Current back{};
  for (std::size_t o = 0; o < s.parts.size(); ++o) {
    if (as<Schottky>(s.parts[o]) && c.asleep(o, "cathode") == plus && !c.on_ground(o, "anode")) {
      back += Current{-dark_current(s.parts[o], v, -1)};
    } else if (as<Panel>(s.parts[o]) && c.asleep(o, "plus") == plus) {
      back += Current{dark_current(s.parts[o], v, 1)};
    } else {
      continue;
    }
    through.push_back(c.name(o));
  }
  const Current sleep = sum(c.drains(c.net(*cell, "plus"), v));
  if (through.empty() || back <= sleep) return {};
  const Charge lost = back * Duration{night};
  return {{"dark-leakage", through,
           listed(through) + (through.size() > 1 ? " take " : " takes ") + about(back, "A") + " back from " +
               c.name(*cell) + " in the dark at 60 degC, more than the " + about(sleep, "A") +
               " that the instrument sleeps on: a night of 12 h costs " + about(lost, "Ah") + " of " +
               about(p.capacity, "Ah") +
               (sleep > Current{} ? ", as much as " + duration_text((lost / sleep).si()) + " of sleep" : ""),
           "a charger in between, or diodes of less reverse current"}};
}

}  // namespace overwinter
