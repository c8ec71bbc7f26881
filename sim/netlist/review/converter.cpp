#include <algorithm>

#include "models/paths/p_switch.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "models/storage/capacitor.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

// Of a new cell at 25 degC: cold, age and an empty cell only raise its resistance, so that what is told here is
// certain.
const Temperature warm = celsius(25), freezing = celsius(0);

/// Behind a resistance a converter takes a constant power: the current at which the nearer end stands at `v`.
Current drawn_at(const BoostParameters& b, Power power, Voltage v, Resistance behind) {
  Voltage input = v;
  for (int i = 0; i < 40; ++i) input = std::max(v / 2, v - behind * input_current(b, power, input));
  return input_current(b, power, input);
}

/// Where a threshold on the way from the cell is reached under a burst.
struct Cut {
  double charge = 0;  ///< state of charge of the cell at which it is reached, 0 where never
  Current current{};
  Resistance cell{}, cold_cell{}, way{};
  Voltage rise(bool cold = false) const { return ((cold ? cold_cell : cell) + way) * current; }
};

class ConverterReview {
 public:
  explicit ConverterReview(const Scenario& s) : s_(s), c_(s) {}

  std::vector<DesignFinding> read() {
    const std::optional<std::size_t> cell = c_.first<Cell>();
    if (!cell) return {};
    cell_ = *cell;
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      const Boost* boost = as<Boost>(s_.parts[p]);
      if (!boost || !c_.from_cell(p, "in")) continue;
      look_at_hysteresis(p, boost->parameters());
      look_at_idling(p, boost->parameters());
    }
    return std::move(findings_);
  }

 private:
  const Cell& cell() const { return *as<Cell>(s_.parts[cell_]); }

  Cut cut(Voltage threshold, Current current, Resistance way) const {
    double low = 0, high = 1;
    for (int i = 0; i < 50; ++i) {
      const double middle = (low + high) / 2;
      const Voltage inner{cell().parameters().open_circuit_voltage(middle)};
      (inner - current * (series_resistance(cell(), middle, warm) + way) < threshold ? low : high) = middle;
    }
    return {high < 1e-6 ? 0 : high, current, series_resistance(cell(), high, warm),
            series_resistance(cell(), high, freezing), way};
  }

  /// A threshold whose hysteresis is less than what the voltage rises by when the load goes is released by its own
  /// cut: a limit cycle of two-point control, with the source's resistance as the feedback. Derived from Ohm's law; the
  /// cell's pairs are left out, as they relax in minutes. Where a cell that runs down meets a protector's trip before
  /// the lockout, the lockout is left alone: behind the open protector the charger alone feeds the converter, and no
  /// hysteresis helps against its limit. A start, C U^2/2 over the soft start, is too short for a protector.
  void look_at_hysteresis(std::size_t p, const BoostParameters& b) {
    const Power charging = 0.5 * b.output_capacitance * b.output_voltage * b.output_voltage / b.soft_start;
    for (const Circuit::Burst& load : {c_.largest_burst(p), Circuit::Burst{"its own start", charging, b.soft_start}}) {
      if (load.power > Power{} && look_at_load(p, b, load)) return;
    }
  }

  bool look_at_load(std::size_t p, const BoostParameters& b, const Circuit::Burst& load) {
    const Circuit::Path to_boost = *c_.from_cell(p, "in");
    const Cut boost = cut(b.lockout, input_current(b, load.power, b.lockout), to_boost.resistance);
    bool found = false, masked = false;
    for (std::size_t g = 0; g < s_.parts.size(); ++g) {
      const Protector* guard = as<Protector>(s_.parts[g]);
      const auto to_guard = guard ? c_.from_cell(g, "cell") : std::nullopt;
      const auto& on_way = to_boost.parts;
      if (!to_guard || std::find(on_way.begin(), on_way.end(), c_.name(g)) == on_way.end()) continue;
      const ProtectorParameters& q = guard->parameters();
      if (load.duration < q.overdischarge_delay) continue;
      const Current current =
          drawn_at(b, load.power, q.overdischarge_voltage, to_boost.resistance - to_guard->resistance);
      const Cut trip = cut(q.overdischarge_voltage, current, to_guard->resistance);
      if (trip.charge <= boost.charge) continue;
      masked = true;
      if (q.release != DischargeRelease::voltage) continue;
      found |= add_if_short("release-hysteresis", g, "its release is ",
                            q.overdischarge_release - q.overdischarge_voltage, " above its trip, less than the ", trip,
                            to_guard->parts, load.phase, "overdischarge_release", q.overdischarge_voltage);
    }
    if (masked) return found;
    return add_if_short("lockout-hysteresis", p, "its lockout hysteresis of ", b.lockout_hysteresis,
                        " is less than the ", boost, to_boost.parts, load.phase, "lockout_hysteresis", Voltage{});
  }

  bool add_if_short(const std::string& rule, std::size_t p, const std::string& what, Voltage hysteresis,
                    const std::string& less, const Cut& cut, const std::vector<std::string>& parts,
                    const std::string& phase, const std::string& key, Voltage from) {
    if (cut.charge <= 0 || hysteresis >= cut.rise()) return false;
    const std::string between = parts.empty() ? "" : ", or less resistance in " + listed(parts);
    findings_.push_back({rule,
                         {c_.name(p), c_.name(cell_)},
                         c_.name(p) + ": " + what + volts(hysteresis) + less + about(cut.rise(), "V") +
                             " by which the voltage rises when it cuts the load" +
                             (phase.empty() ? "" : " of " + phase) + " (" + c_.name(cell_) + " " +
                             about(cut.cell, "ohm") + " + way " + about(cut.way, "ohm") + ", x " +
                             about(cut.current, "A") + "): it starts and cuts out in turn",
                         key + " above " + volts_above(from + cut.rise()) + " (" + volts_above(from + cut.rise(true)) +
                             " for a cell at 0 degC)" + between});
    return true;
  }

  /// A start costs the output's charge, C U^2/2 over the efficiency (energy of a capacitor: textbook); the converter
  /// pays it back in the time that its own consumption would have taken. Told where that consumption is a quarter of
  /// all that the converter takes at the policy's longest interval (class assumption: below that other things matter
  /// more), and where nothing but switches and stores hangs on its output.
  void look_at_idling(std::size_t p, const BoostParameters& b) {
    const std::optional<Circuit::Range> out = c_.range(c_.net(p, "out"));
    if (!s_.policy || !out || out->source != p) return;
    Capacitance charged = b.output_capacitance;
    bool switched = false;
    for (std::size_t o = 0; o < s_.parts.size(); ++o) {
      const ScenarioPart& part = s_.parts[o];
      for (const Pin& pin : part.table->pins) {
        if (o == p || c_.asleep(o, pin.name) != c_.asleep(p, "out")) continue;
        if (const auto* store = as<Capacitor>(part)) {
          charged += store->parameters().capacitance;
        } else if (as<PSwitch>(part)) {
          switched = true;
        } else if (!as<Resistor>(part)) {
          return;
        }
      }
    }
    if (!switched) return;
    const Voltage v{cell().parameters().open_circuit_voltage(0.5)}, u = b.output_voltage;
    Power idle = v * b.quiescent_enabled;
    if (b.divider_resistance) {
      const Power divider = u * u / *b.divider_resistance;
      idle += v * input_current(b, divider, v);
    }
    const Energy start = 0.5 * u * u * charged * (v * input_current(b, Power{1.0}, v) / Power{1.0});
    Energy wake{};
    for (const Circuit::Burst& burst : c_.bursts(p)) wake += v * input_current(b, burst.power, v) * burst.duration;
    const Duration interval = s_.policy->longest_interval();
    const Energy idled = idle * interval;
    if (idled <= start || idled < 0.25 * (idled + wake)) return;
    const Duration even = start / idle;
    findings_.push_back({"converter-always-on",
                         {c_.name(p)},
                         c_.name(p) + ": always on, it takes " + about(idle, "W") + " for itself, " +
                             about(idled, "J") + " in " + fitting_text(interval.si(), unit_of<Duration>("h")) +
                             ", beside " + about(wake, "J") + " for a wake; a start costs " + about(start, "J") +
                             ", as much as " + duration_text(even.si()) + " of being on",
                         "a switch between the cell and " + c_.name(p) +
                             " in place of the one behind it, pulled up to the cell's net"});
  }

  const Scenario& s_;
  const Circuit c_;
  std::size_t cell_ = 0;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_converters(const Scenario& scenario) { return ConverterReview(scenario).read(); }

}  // namespace overwinter
