#include <algorithm>
#include <cmath>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/loads/load.hpp"
#include "models/paths/open_drain_stage.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/resistor.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

// A datasheet's point is a nominal one: 5 % less drive raises the resistance by less than a warm channel does.
constexpr double near_enough = 0.95;
// Datasheets let the threshold be up to half as much again as its typical value: common practice.
constexpr double highest_threshold = 1.5;
// What is left below it gives a cell no more than hours: what happens there is no matter of the switch.
constexpr double last_charge = 0.05;
constexpr double small_drop = 0.01;  // V, at which a channel's resistance is taken

/// Of the channel with its threshold this many times the typical one, by the model's own law. None where no channel
/// has that threshold.
std::optional<Resistance> resistance(PSwitchParameters q, double times, Voltage drive) {
  q.threshold = times * q.threshold;
  std::vector<Finding> unused;
  const std::shared_ptr<const Model> channel = PSwitch::build(q, unused);
  if (!channel) return std::nullopt;
  const double z[] = {small_drop, 0, small_drop - drive.si()};
  double f[3];
  View view;
  view.z = z;
  channel->evaluate(view, f);
  return Resistance{small_drop / -f[1]};
}

/// Voltages of a switch's source between which the instrument should run.
struct Span {
  Voltage lowest{}, highest{};
  std::string at_lowest, at_highest;  ///< what makes it so
  bool by_cell = false;
};

/// What pulls the gate down, as the nodes of its net and the driver's: Kirchhoff's current law.
struct Pulled {
  std::string by;
  double share = 0;     ///< of the source's voltage that is left on the gate
  Voltage from_rest{};  ///< left by pull-ups to other nets
  Voltage drive(Voltage source) const { return (1 - share) * source - from_rest; }
  Voltage source_for(Voltage drive) const { return (drive + from_rest) / (1 - share); }
};

class GateDriveReview {
 public:
  explicit GateDriveReview(const Scenario& s) : s_(s), c_(s) {}

  std::vector<DesignFinding> read() {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      if (const PSwitch* one = as<PSwitch>(s_.parts[p])) look_at(p, one->parameters());
    }
    return std::move(findings_);
  }

 private:
  void look_at(std::size_t p, const PSwitchParameters& q) {
    const std::optional<Span> source = span_of(p);
    const std::optional<Pulled> gate = source ? pulled(p, q, source->highest) : std::nullopt;
    if (!gate) return;
    const Voltage specified{q.on_resistance.x().front()}, least = gate->drive(source->lowest);
    if (least >= near_enough * specified) return;
    const std::string name = c_.name(p);
    std::string text = name + ": ";
    if (!source->by_cell) {
      text +=
          gate->by + " gives its gate " + about(least, "V") + " of drive from a source at " + volts(source->highest);
    } else if (gate->drive(source->highest) < specified) {
      text += "even where " + source->at_highest + ", " + gate->by + " gives its gate no more than " +
              about(gate->drive(source->highest), "V") + " of drive, and " + about(least, "V") + " where " +
              source->at_lowest;
    } else {
      const Voltage from = gate->source_for(specified);
      text += gate->by + " gives its gate less than " + volts(specified) + " of drive while its source is below " +
              volts(Voltage{std::round(from.si() * 100) / 100}) + charge_at(from) + ", and " + about(least, "V") +
              " where " + source->at_lowest;
    }
    findings_.push_back(
        {"gate-drive-below-datasheet", {name}, text + promised(q, specified, least), cure(p, specified)});
  }

  /// What the channel then is.
  static std::string promised(const PSwitchParameters& q, Voltage specified, Voltage drive) {
    const std::string text =
        "; on_resistance, from its datasheet, begins at " + volts(specified) + ", and below that nothing is promised";
    const std::optional<Resistance> typical = resistance(q, 1, drive), worst = resistance(q, highest_threshold, drive);
    if (!typical || !worst) return text;
    return text + ": at " + about(drive, "V") + " a piece with the typical threshold of " + volts(q.threshold) +
           " has " + about(*typical, "ohm") + ", one with " + about(highest_threshold * q.threshold, "V") +
           ", within usual limits, " + about(*worst, "ohm");
  }

  std::string cure(std::size_t p, Voltage specified) const {
    std::string text = "a logic-level switch, whose on_resistance begins below the least drive";
    for (const ScenarioPart& part : s_.parts) {
      const Boost* boost = as<Boost>(part);
      if (!boost || boost->parameters().output_voltage < specified || behind(p, part)) continue;
      return text + ", or a switch at the output of " + part.name + ", which holds " +
             volts(boost->parameters().output_voltage);
    }
    return text;
  }

  /// Whether the switch's source already stands at the converter's output.
  bool behind(std::size_t p, const ScenarioPart& boost) const {
    const auto at = static_cast<std::size_t>(&boost - s_.parts.data());
    return c_.awake().of(p, "source") == c_.awake().of(at, "out");
  }

  /// None where neither the cell nor a converter feeds the source, or both do.
  std::optional<Span> span_of(std::size_t p) const {
    const Feeds& feeds = c_.awake();
    if (const auto asleep = c_.range(c_.net(p, "source")); asleep && as<Boost>(s_.parts[asleep->source])) {
      return Span{asleep->lowest, asleep->highest, "", "", false};
    }
    const std::size_t group = feeds.of(p, "source");
    std::optional<Voltage> regulated;
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const Boost* boost = as<Boost>(s_.parts[o]);
      if (boost && feeds.of(o, "out") == group) {
        regulated = std::max(boost->parameters().output_voltage, regulated.value_or(Voltage{}));
      }
    }
    if (!feeds.is_cell(group)) return regulated ? std::optional<Span>({*regulated, *regulated, "", ""}) : std::nullopt;
    if (regulated) return std::nullopt;
    const Feeds::Supply high = *feeds.cell_at_its_highest(), low = *feeds.cell_at_its_lowest();
    Span span{low.highest, high.highest, low.text, high.text, true};
    const auto [needed, why] = needed_behind(p);
    if (needed > span.lowest) {
      span.lowest = needed;
      span.at_lowest = why;
    }
    const auto cell = c_.first<Cell>();
    const Voltage nearly_empty{cell ? as<Cell>(s_.parts[*cell])->parameters().open_circuit_voltage(last_charge) : 0.0};
    if (nearly_empty > span.lowest) {
      span.lowest = nearly_empty;
      span.at_lowest = "the cell is down to 5 %";
    }
    return span;
  }

  /// The lowest voltage at which anything that the switch feeds runs: of converters and controllers, or else of loads.
  std::pair<Voltage, std::string> needed_behind(std::size_t p) const {
    std::optional<std::pair<Voltage, std::string>> main, other;
    const auto lower = [](auto& known, Voltage v, std::string why) {
      if (!known || v < known->first) known = {v, std::move(why)};
    };
    const std::size_t here = c_.asleep(p, "drain");
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const ScenarioPart& part = s_.parts[o];
      if (const Boost* boost = as<Boost>(part); boost && c_.asleep(o, "in") == here) {
        const Voltage v = boost->parameters().lockout;
        lower(main, v, part.name + " locks out at " + volts(v));
      } else if (const Controller* controller = as<Controller>(part); controller && c_.asleep(o, "supply") == here) {
        const ControllerParameters& k = controller->parameters();
        const Voltage v = k.brownout_detector ? k.brownout_threshold : k.minimum_supply;
        lower(main, v, part.name + " stops at " + volts(v));
      } else if (const Load* load = as<Load>(part); load && c_.asleep(o, "plus") == here) {
        const Voltage v = load->parameters().minimum_supply;
        lower(other, v, part.name + " stops at " + volts(v));
      }
    }
    return main ? *main : other.value_or(std::pair<Voltage, std::string>{});
  }

  /// With the weakest of its drivers; none where nothing pulls it down.
  std::optional<Pulled> pulled(std::size_t p, const PSwitchParameters& q, Voltage source) const {
    if (c_.on_ground(p, "gate")) return Pulled{"gnd", 0, {}};
    std::optional<Pulled> weakest;
    for (std::size_t d = 0; d < s_.parts.size(); ++d) {
      const auto* clock = as<Clock>(s_.parts[d]);
      const auto* stage = as<OpenDrainStage>(s_.parts[d]);
      if (!clock && !stage) continue;
      const std::size_t gate = c_.net(p, "gate"), at = c_.net(d, clock ? "interrupt" : "drain");
      const std::optional<Conductance> series = at == gate ? std::nullopt : between(at, gate);
      if (at != gate && !series) continue;
      const Conductance down =
          1.0 / (clock ? clock->parameters().interrupt_resistance : stage->parameters().on_resistance);
      Pull up{q.gate_leakage / q.gate_leakage_voltage, {}};
      if (q.gate_pull_up) up.to_source = up.to_source + 1.0 / *q.gate_pull_up;
      up = sum(up, pull_ups(gate, at, p, source));
      Pulled one{c_.name(d), 0, {}};
      if (series) {
        // Two nodes: the driver's, with its own pull-ups, and the gate's behind the series resistor.
        const Pull own = pull_ups(at, gate, p, source);
        const Conductance gate_sum = up.to_source + up.elsewhere + *series;
        const Conductance driver_sum = down + own.to_source + own.elsewhere + *series;
        const double to_driver = *series / driver_sum;
        const Conductance whole = gate_sum - to_driver * *series;
        one.share = (up.to_source + to_driver * own.to_source) / whole;
        one.from_rest = (up.current + to_driver * own.current) / whole;
      } else {
        const Conductance whole = up.to_source + up.elsewhere + down;
        one.share = up.to_source / whole;
        one.from_rest = up.current / whole;
      }
      if (!weakest || one.drive(source) < weakest->drive(source)) weakest = one;
    }
    return weakest;
  }

  /// What pulls a net up: to the switch's source, and the current from nets at other voltages.
  struct Pull {
    Conductance to_source{}, elsewhere{};
    Current current{};
  };
  static Pull sum(const Pull& a, const Pull& b) {
    return {a.to_source + b.to_source, a.elsewhere + b.elsewhere, a.current + b.current};
  }

  std::optional<Conductance> between(std::size_t a, std::size_t b) const {
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const auto* r = as<Resistor>(s_.parts[o]);
      if (!r) continue;
      const std::size_t x = c_.net(o, "a"), y = c_.net(o, "b");
      if ((x == a && y == b) || (x == b && y == a)) return 1.0 / r->parameters().resistance;
    }
    return std::nullopt;
  }

  Pull pull_ups(std::size_t net, std::size_t except, std::size_t p, Voltage source) const {
    Pull all;
    const std::size_t fed = c_.awake().of(p, "source");
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const auto* r = as<Resistor>(s_.parts[o]);
      if (!r) continue;
      for (const auto& [here, there] : {std::pair{"a", "b"}, std::pair{"b", "a"}}) {
        if (c_.net(o, here) != net || c_.net(o, there) == except) continue;
        const Conductance g = 1.0 / r->parameters().resistance;
        if (c_.awake().of(o, there) == fed) {
          all.to_source = all.to_source + g;
          continue;
        }
        const auto supply = c_.awake().supply(c_.awake().of(o, there));
        all.elsewhere = all.elsewhere + g;
        if (!c_.on_ground(o, there)) all.current += g * (supply ? supply->highest : source);
      }
    }
    return all;
  }

  /// Where the cell's open-circuit voltage is this, by bisection.
  std::string charge_at(Voltage v) const {
    const std::optional<std::size_t> cell = c_.first<Cell>();
    const Curve& curve = as<Cell>(s_.parts[*cell])->parameters().open_circuit_voltage;
    if (curve(0) >= v.si() || curve(1) <= v.si()) return "";
    double low = 0, high = 1;
    for (int i = 0; i < 40; ++i) {
      const double middle = (low + high) / 2;
      (curve(middle) < v.si() ? low : high) = middle;
    }
    return " (" + c_.name(*cell) + " at rest at " + quantity_text(std::round(100 * high) / 100, unit_of<double>("%")) +
           " of its charge)";
  }

  const Scenario& s_;
  const Circuit c_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_gate_drives(const Scenario& scenario) { return GateDriveReview(scenario).read(); }

}  // namespace overwinter
