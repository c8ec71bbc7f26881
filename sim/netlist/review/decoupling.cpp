#include <algorithm>

#include "models/control/controller.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/resistor.hpp"
#include "models/storage/capacitor.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr Capacitance asked_for{100e-9};  // beside each supply pin: datasheets of controllers, common practice
constexpr Resistance still_beside{1.0};   // more is no longer beside the pin: class assumption
constexpr double as_printed = 1 - 1e-9;   // 0.1 uF is 100 nF

/// Nets between which nothing but short wires and shunts lie. Unlike in Feeds the reference counts as a net of its own
/// and is joined too: a capacitor's way back matters as much.
Groups beside(const Scenario& s, const Circuit& c) {
  Groups groups(s.nets.size());
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    const auto* r = as<Resistor>(s.parts[p]);
    const auto* m = as<PowerMonitor>(s.parts[p]);
    if (r && r->parameters().resistance < still_beside) groups.join(c.net(p, "a"), c.net(p, "b"));
    if (m && m->parameters().shunt < still_beside) groups.join(c.net(p, "in"), c.net(p, "out"));
  }
  return groups;
}

/// A name that no part has.
std::string free_name(const Scenario& s, const std::string& wanted) {
  std::string name = wanted;
  const auto taken = [&] {
    return std::any_of(s.parts.begin(), s.parts.end(), [&](const ScenarioPart& p) { return p.name == name; });
  };
  for (int i = 2; taken(); ++i) name = wanted + "-" + std::to_string(i);
  return name;
}

}  // namespace

std::vector<DesignFinding> review_decoupling(const Scenario& s) {
  const Circuit c(s);
  const Groups groups = beside(s, c);
  std::vector<DesignFinding> all;
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    if (!as<Controller>(s.parts[p])) continue;
    const std::size_t supply = c.net(p, "supply"), ground = c.net(p, "ground");
    const auto across = [&](std::size_t part, const char* plus, const char* minus) {
      return groups.of(c.net(part, plus)) == groups.of(supply) && groups.of(c.net(part, minus)) == groups.of(ground);
    };
    Capacitance found{};
    std::vector<std::string> names;
    for (std::size_t o = 0; o < s.parts.size(); ++o) {
      if (const auto* capacitor = as<Capacitor>(s.parts[o]); capacitor && across(o, "plus", "minus")) {
        found += capacitor->parameters().capacitance;
      } else if (const auto* boost = as<Boost>(s.parts[o]); boost && across(o, "out", "ground")) {
        found += boost->parameters().output_capacitance;
      } else {
        continue;
      }
      names.push_back(c.name(o));
    }
    if (found >= as_printed * asked_for) continue;
    const std::string place = free_name(s, "decoupling");
    all.push_back({"decoupling-missing",
                   {c.name(p)},
                   c.name(p) +
                       (names.empty() ? " has no capacitor on its supply, net " + c.net_name(supply)
                                      : " has only " + about(found, "F") + " (" + listed(names) +
                                            ") on its supply, net " + c.net_name(supply)) +
                       ": datasheets of controllers ask for 100 nF beside each supply pin (common practice), without "
                       "which its own switching pulls the supply down",
                   "under parts " + place + ": {part: ceramic-100nf}, and " + place + ".plus in net " +
                       c.net_name(supply) + ", " + place + ".minus in net " + c.net_name(ground)});
  }
  return all;
}

}  // namespace overwinter
