#include <algorithm>

#include "models/control/controller.hpp"
#include "models/loads/load.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/resistor.hpp"
#include "models/paths/schottky.hpp"
#include "models/paths/signal_line.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

constexpr Current notable{1e-6};  // a clock's own consumption: below it nobody cares (common practice)

/// A way into a net that is to be unpowered.
struct Leak {
  Voltage from{};  ///< behind the clamp diode, of a signal line
  Resistance resistance{};
  std::size_t net = 0;
  std::string way;  ///< " over 4.7 kohm"
};

class BackFeedReview {
 public:
  explicit BackFeedReview(const Scenario& s) : s_(s), c_(s) {}

  std::vector<DesignFinding> read() {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      if (as<PSwitch>(s_.parts[p])) look_at(p);
    }
    return std::move(findings_);
  }

 private:
  void look_at(std::size_t p) {
    const std::size_t source = c_.net(p, "source"), drain = c_.net(p, "drain");
    const auto feed = c_.range(source);
    if (feed && c_.range(drain)) {
      findings_.push_back({"switch-bypassed",
                           {c_.name(p), c_.name(c_.range(drain)->source)},
                           c_.name(p) + " switches nothing off: " + c_.net_name(drain) + " on its drain is fed by " +
                               c_.name(c_.range(drain)->source) + " past it",
                           "everything that is to be switched on a net of its own behind " + c_.name(p) + ".drain"});
      return;
    }
    if (c_.range(drain)) look_at_direction(p);
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      for (const Leak& leak : leaks(o)) {
        if (c_.asleep(leak.net) == c_.asleep(drain)) tell(p, o, leak);
      }
    }
  }

  /// Two switches back to back share their source.
  void look_at_direction(std::size_t p) {
    for (std::size_t other = 0; other < s_.parts.size(); ++other) {
      if (other == p || !as<PSwitch>(s_.parts[other])) continue;
      if (c_.asleep(other, "source") == c_.asleep(p, "source")) return;
    }
    findings_.push_back({"part-turned-round",
                         {c_.name(p)},
                         c_.name(p) + " is turned round: " + c_.name(c_.range(c_.net(p, "drain"))->source) +
                             " feeds its drain, so that its body diode feeds the load for ever",
                         c_.name(p) + ".source and " + c_.name(p) + ".drain exchanged"});
  }

  /// Through this part, from nets that stay powered into others.
  std::vector<Leak> leaks(std::size_t o) const {
    std::vector<Leak> all;
    if (const auto* resistor = as<Resistor>(s_.parts[o])) {
      for (const auto& [here, there] : {std::pair{"a", "b"}, std::pair{"b", "a"}}) {
        if (c_.on_ground(o, there) || c_.range(c_.net(o, there))) continue;
        if (const auto from = c_.range(c_.net(o, here))) {
          const Resistance r = resistor->parameters().resistance;
          all.push_back(
              {from->highest, r, c_.net(o, there), " from " + volts(from->highest) + " over " + about(r, "ohm")});
        }
      }
    } else if (as<Schottky>(s_.parts[o])) {
      const auto from = c_.range(c_.net(o, "anode"));
      if (from && !c_.range(c_.net(o, "cathode"))) {
        all.push_back({from->highest, Resistance{}, c_.net(o, "cathode"), " from " + volts(from->highest)});
      }
    } else if (const auto* line = as<SignalLine>(s_.parts[o])) {
      const auto from = c_.range(c_.net(o, "from"));
      const SignalLineParameters& l = line->parameters();
      if (from && !c_.range(c_.net(o, "to")) && !c_.driven(o, "level")) {
        const std::string side_by_side = l.lines > 1 ? std::to_string(l.lines) + " x " : "";
        all.push_back({from->highest - l.clamp_voltage, l.resistance / l.lines, c_.net(o, "to"),
                       " from " + volts(from->highest) + " over " + side_by_side + about(l.resistance, "ohm") +
                           " and a clamp diode of " + volts(l.clamp_voltage)});
      }
    }
    return all;
  }

  /// Of a controller whose supply falls: in reset, or hung where no detector resets it, until the power-on reset is
  /// armed; both resistive below its supply range (models/loads/demand.hpp).
  static Conductance draw_of(const ControllerParameters& p) {
    return (p.brownout_detector ? p.reset_current : p.idle_current) / p.minimum_supply + 1.0 / p.off_resistance;
  }

  /// What hangs on the unpowered net: the parts' laws below their supply range, which are resistors.
  Conductance off_conductance(std::size_t net) const {
    Conductance g{};
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const auto on = [&](const char* pin) { return c_.asleep(o, pin) == c_.asleep(net); };
      if (const auto* controller = as<Controller>(s_.parts[o]); controller && on("supply")) {
        g = g + draw_of(controller->parameters());
      } else if (const auto* monitor = as<PowerMonitor>(s_.parts[o]); monitor && on("supply")) {
        g = g + monitor->parameters().supply_current / monitor->parameters().minimum_supply;
      } else if (const auto* load = as<Load>(s_.parts[o]); load && on("plus") && !c_.driven(o, "enable")) {
        const LoadParameters& l = load->parameters();
        if (l.resistance) g = g + 1.0 / *l.resistance;
        if (l.current) g = g + *l.current / l.minimum_supply;
        if (l.power) g = g + *l.power / (l.minimum_supply * l.minimum_supply);
      }
    }
    return g;
  }

  /// A phantom supply: the divider of the way in and of what hangs on the net (Ohm's law). Half-awake controllers are a
  /// frequent complaint (common practice: the supply must fall below the power-on reset's re-arming voltage).
  void tell(std::size_t p, std::size_t o, const Leak& leak) {
    const Conductance load = off_conductance(leak.net);
    const Voltage phantom = leak.from / (1.0 + (leak.resistance * load));
    const Current current = phantom * load;
    std::string held;
    for (const ScenarioPart& part : s_.parts) {
      const auto* controller = as<Controller>(part);
      if (!controller || phantom <= controller->parameters().reset_rearm) continue;
      held = ", above the " + volts(controller->parameters().reset_rearm) + " below which " + part.name + " resets";
    }
    if (current < notable && held.empty()) return;
    findings_.push_back({"back-feed",
                         {c_.name(o), c_.name(p)},
                         c_.net_name(leak.net) + " is fed past " + c_.name(p) + " while it is open: " + c_.name(o) +
                             " brings " + about(current, "A") + leak.way + ", which holds it at " +
                             about(phantom, "V") + held,
                         c_.name(o) + " on a net that is off too, or on one behind the same switch"});
  }

  const Scenario& s_;
  const Circuit c_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_back_feed(const Scenario& scenario) { return BackFeedReview(scenario).read(); }

}  // namespace overwinter
