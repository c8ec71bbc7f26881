#include <algorithm>
#include <set>

#include "models/control/clock.hpp"
#include "models/paths/open_drain_stage.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/resistor.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

// Of the threshold: below half of it the channel conducts less than it leaks (models/paths/p_switch.hpp); drivers'
// leakage, which differs from piece to piece and rises in heat, may use up 0.3 of it (common practice).
constexpr double off_share = 0.5, leakage_share = 0.3;
constexpr Voltage leakage_voltage{5.0};  // at which a clock's interrupt_leakage is given

class GateReview {
 public:
  explicit GateReview(const Scenario& s) : s_(s), c_(s) {}

  std::vector<DesignFinding> read() {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      const PSwitch* one = as<PSwitch>(s_.parts[p]);
      if (one && !c_.on_ground(p, "gate")) look_at(p, one->parameters());
    }
    return std::move(findings_);
  }

 private:
  /// The gate while no driver pulls: the voltage divider of all that hangs on it (Kirchhoff's current law), with the
  /// source at its highest and what pulls the gate up at its lowest, except where both stand on the same net.
  void look_at(std::size_t p, const PSwitchParameters& q) {
    const auto source = c_.range(c_.net(p, "source"));
    if (!source) return;
    Conductance to_source = q.gate_leakage / q.gate_leakage_voltage, all{}, leakage{};
    if (q.gate_pull_up) to_source = to_source + 1.0 / *q.gate_pull_up;
    all = to_source;
    Current pulled = to_source * source->highest;
    std::string low;  // what pulls to less than the source
    Voltage low_at = source->highest;
    std::vector<std::string> drivers;
    std::set<std::size_t> driven = {c_.net(p, "gate")};
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      if (const auto* resistor = as<Resistor>(s_.parts[o])) {
        for (const auto& [here, there] : {std::pair{"a", "b"}, std::pair{"b", "a"}}) {
          if (c_.net(o, here) != c_.net(p, "gate")) continue;
          if (has_driver(c_.net(o, there))) {  // between the drivers and the gate
            driven.insert(c_.net(o, there));
            continue;
          }
          const Conductance g = 1.0 / resistor->parameters().resistance;
          const Voltage v = pull(c_.net(o, there), c_.net(p, "source"), source->highest);
          all = all + g;
          pulled += g * v;
          if (v >= low_at) continue;
          low_at = v;
          low = c_.name(o) + " (" + about(resistor->parameters().resistance, "ohm") + ") leads to " +
                c_.net_name(c_.net(o, there)) +
                (c_.range(c_.net(o, there)) ? ", which can be as low as " + volts(v)
                                            : ", which nothing feeds while the switch is open");
        }
      }
    }
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const std::optional<Conductance> leak = leak_of(s_.parts[o]);
      if (!leak || !driven.count(c_.net(o, driver_pin(s_.parts[o])))) continue;
      leakage = leakage + *leak;
      drivers.push_back(c_.name(o));
    }
    const Voltage drive = source->highest - pulled / all;
    const Voltage leaked = source->highest - pulled / (all + leakage);
    if (drive > off_share * q.threshold) {
      findings_.push_back(
          {"gate-never-off",
           {c_.name(p)},
           c_.name(p) + (drive < q.threshold ? " is never quite off" : " is never off") + ": its source is at " +
               volts(source->highest) + ", but " + low + ", so that " + about(drive, "V") +
               " of gate drive are left (threshold " + volts(q.threshold) + ")",
           "the pull-up on " + c_.net_name(c_.net(p, "source")) + ", the net of " + c_.name(p) + ".source"});
    } else if (leaked > leakage_share * q.threshold) {
      findings_.push_back({"gate-pull-up-weak",
                           {c_.name(p)},
                           c_.name(p) + ": what " + listed(drivers) + " leaks while off, " +
                               about(leakage * (source->highest - leaked), "A") + ", makes " +
                               about(leaked - drive, "V") + " over the gate's pull-up of " + about(1.0 / all, "ohm") +
                               ", more than 0.3 of the threshold of " + volts(q.threshold) +
                               ": the switch is not surely off",
                           "a pull-up of at most " +
                               about(leakage_share * q.threshold / (leakage * source->highest), "ohm") + " in all"});
    }
  }

  /// What a driver leaks while it does not pull; none of a part that is none.
  static std::optional<Conductance> leak_of(const ScenarioPart& part) {
    if (const auto* clock = as<Clock>(part)) return clock->parameters().interrupt_leakage / leakage_voltage;
    const auto* stage = as<OpenDrainStage>(part);
    if (stage) return stage->parameters().off_leakage / stage->parameters().off_leakage_voltage;
    return std::nullopt;
  }

  static std::string driver_pin(const ScenarioPart& part) { return as<Clock>(part) ? "interrupt" : "drain"; }

  bool has_driver(std::size_t net) const {
    const std::vector<PinRef>& pins = s_.nets[net].pins;
    return std::any_of(pins.begin(), pins.end(),
                       [&](PinRef pin) { return s_.parts[pin.part].table->pins[pin.pin].role == PinRole::open_drain; });
  }

  Voltage pull(std::size_t net, std::size_t source_net, Voltage source) const {
    if (c_.asleep(net) == c_.asleep(source_net)) return source;
    const auto range = c_.range(net);
    return range ? range->lowest : Voltage{};
  }

  const Scenario& s_;
  const Circuit c_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_gates(const Scenario& scenario) { return GateReview(scenario).read(); }

}  // namespace overwinter
