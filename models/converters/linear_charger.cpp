#include "models/converters/linear_charger.hpp"

#include <algorithm>
#include <cmath>

#include "models/ticks.hpp"

namespace overwinter {

namespace {
constexpr double off = -1.0;              // a guard that cannot be due in the present memory
constexpr double taper_hysteresis = 0.1;  // of the termination current (class assumption)
}  // namespace

const ModelTable& LinearCharger::describe() {
  static const ModelTable table = [] {
    using P = LinearChargerParameters;
    using C = LinearCharger;
    const std::string practice = "common practice for lithium-ion chargers";
    TableBuilder<C, P> t("linear-charger",
                         "A linear charge controller for one lithium cell, fed by panels behind blocking diodes.");
    t.equation("1", "I = softmin(Iset, Icv, Idrop)", "the tightest limit, corner rounded by 2 %");
    t.equation("2", "Iset = Ipre below the pre-charge voltage, Ichg above; 0 while complete, too cold or too hot",
               practice);
    t.equation("3", "Icv = (Vcv - Vout) / Rreg, not below 0", "load regulation, datasheet");
    t.equation("4", "Idrop = u (Vin - Vout - hw) / Rpass, not below 0", "drop-out, datasheet");
    t.equation("5", "Isupply = Istandby + a (Iawake - Istandby)",
               "class assumption: average of the toggling in weak light");
    t.equation("6", "Ileak = Vout Ileak,cv / Vcv", "reverse leakage, datasheet");

    t.scalar("charge_voltage", &P::charge_voltage, "V")
        .at_least(2.5)
        .at_most(4.5)
        .meaning("regulated end-of-charge voltage; never above what the cell's datasheet allows")
        .source(practice);
    t.scalar("charge_current", &P::charge_current, "mA")
        .required()
        .above(0)
        .at_most(20)
        .meaning("constant current, set by the programming resistor");
    t.scalar("precharge_current", &P::precharge_current, "mA")
        .required()
        .above(0)
        .at_most(20)
        .meaning("trickle into a deeply discharged cell, usually a tenth of charge_current");
    t.scalar("precharge_voltage", &P::precharge_voltage, "V")
        .above(0)
        .at_most(4)
        .meaning("pre-charge ends above this cell voltage")
        .source("2.8 to 3.0 V: " + practice);
    t.scalar("precharge_hysteresis", &P::precharge_hysteresis, "V")
        .above(0)
        .at_most(1)
        .meaning("pre-charge begins again this far below precharge_voltage")
        .source(practice);
    t.scalar("termination_current", &P::termination_current, "mA")
        .required()
        .above(0)
        .at_most(20)
        .meaning("in constant voltage, charging is complete below this current, usually a tenth of charge_current");
    t.scalar("termination_delay", &P::termination_delay, "ms")
        .at_least(0)
        .at_most(60)
        .meaning("for which the current must have stayed there")
        .source("tens of milliseconds: " + practice);
    t.scalar("recharge_voltage", &P::recharge_voltage, "V")
        .at_least(2)
        .at_most(4.5)
        .meaning("a complete charge begins again below this cell voltage")
        .source("100 to 150 mV below full: " + practice);
    t.scalar("recharge_delay", &P::recharge_delay, "s")
        .above(0)
        .at_most(86400)
        .meaning("shortest time between completion and recharge")
        .source("class assumption");
    t.scalar("regulation_resistance", &P::regulation_resistance, "ohm")
        .above(0)
        .at_most(1)
        .meaning("output resistance of the constant-voltage loop")
        .source("class assumption: 2 mV at 100 mA");
    t.scalar("pass_resistance", &P::pass_resistance, "ohm")
        .above(0)
        .at_most(100)
        .meaning("pass element fully on: (drop-out voltage - wake_headroom) / charge_current")
        .source("class assumption");
    t.scalar("sleep_headroom", &P::sleep_headroom, "V")
        .at_least(0)
        .at_most(1)
        .meaning("input above cell at which the charger falls asleep")
        .source("30 mV: " + practice);
    t.scalar("wake_headroom", &P::wake_headroom, "V")
        .above(0)
        .at_most(2)
        .meaning("input above cell at which it wakes and charges")
        .source("100 to 150 mV: " + practice);
    t.scalar("input_minimum", &P::input_minimum, "V")
        .above(0)
        .at_most(30)
        .meaning("input under-voltage lockout, rising")
        .source(practice);
    t.scalar("input_hysteresis", &P::input_hysteresis, "V")
        .above(0)
        .at_most(5)
        .meaning("window below input_minimum over which the charger gives up")
        .source(practice);
    t.scalar("awake_current", &P::awake_current, "uA")
        .at_least(0)
        .at_most(0.1)
        .meaning("own consumption from the input while charging")
        .source("class assumption");
    t.scalar("standby_current", &P::standby_current, "uA")
        .at_least(0)
        .at_most(0.1)
        .meaning("own consumption from the input while asleep")
        .source("class assumption");
    t.scalar("reverse_leakage", &P::reverse_leakage, "uA")
        .at_least(0)
        .at_most(1e-3)
        .meaning("drawn from the cell at charge_voltage, day and night")
        .source("1 to 5 uA: " + practice);
    t.scalar("cold_limit", &P::cold_limit, "degC")
        .at_least(223.15)
        .at_most(323.15)
        .meaning("no charging at or below this cell temperature")
        .source("0 degC: JEITA guideline, as quoted by equipment manuals");
    t.scalar("hot_limit", &P::hot_limit, "degC")
        .at_least(273.15)
        .at_most(373.15)
        .meaning("no charging at or above this cell temperature")
        .source("45 degC: JEITA guideline, as quoted by equipment manuals");
    t.scalar("temperature_hysteresis", &P::temperature_hysteresis, "K")
        .difference()
        .above(0)
        .at_most(30)
        .meaning("a temperature block ends this far inside the limit")
        .source("class assumption");

    t.pin("in", "from the blocking diodes");
    t.pin("out", "to the cell");
    t.pin("ground", "return");
    t.line_input("temperature", LineKind::temperature,
                 "the cell's temperature; without it neither cold nor heat stops charging");

    t.output("regime", unit_of<double>("1"), "what limits the charge",
             [](const C& m, const View& v) { return static_cast<double>(m.regime(v)); },
             {"asleep", "pre-charge", "constant current", "constant voltage", "drop-out", "complete", "too cold",
              "too hot"});
    t.output("charge_current", unit_of<Current>("mA"), "from the input into the cell's net",
             [](const C& m, const View& v) { return m.charging(v); });

    t.flow("pass", FlowKind::lost, "headroom times charge current");
    t.flow("supply", FlowKind::lost, "own consumption from the input");
    t.flow("reverse", FlowKind::lost, "leakage out of the cell");

    t.condition("charge", "what it does as soon as there is light")
        .way(
            "ready", "it charges", [](const C&, Writable&) {},
            [](const C&, const View& v, const Tick*) {
              return !v.memory[terminated] && v.memory[temperature_block] == within;
            })
        .way(
            "complete", "it took the cell for full", [](const C&, Writable& w) { w.memory[terminated] = 1; },
            [](const C&, const View& v, const Tick*) {
              return v.memory[terminated] && v.memory[temperature_block] == within;
            })
        .way(
            "blocked by cold", "the cell was too cold to be charged",
            [](const C&, Writable& w) { w.memory[temperature_block] = below; },
            [](const C&, const View& v, const Tick*) {
              return v.memory[temperature_block] == below && !std::isnan(v.line[0]);
            });
    t.memories(memory_count);
    t.event(
        "pre-charge begins", "the cell is deeply discharged",
        [](const C& m, const View& v) {
          return v.transient || v.memory[precharging]
                     ? off
                     : (m.p_.precharge_voltage - m.p_.precharge_hysteresis).si() - m.output(v);
        },
        [](const C&, const View&, Writable& w) { w.memory[precharging] = 1; });
    t.event(
        "pre-charge ends", "the cell takes the full current again",
        [](const C& m, const View& v) {
          return !v.transient && v.memory[precharging] ? m.output(v) - m.p_.precharge_voltage.si() : off;
        },
        [](const C&, const View&, Writable& w) { w.memory[precharging] = 0; });
    t.event(
         "charge tapers", "constant-voltage current fell to the termination current",
         [](const C& m, const View& v) { return v.transient || v.memory[tapered] ? off : m.below_termination(v); },
         [](const C& m, const View&, Writable& w) {
           w.memory[tapered] = 1;
           w.alarm[complete_alarm] = w.now.utc + ticks(m.p_.termination_delay);
         })
        .routine();
    t.event(
         "charge goes on", "the charge current rose again within the termination delay",
         [](const C& m, const View& v) {
           return v.transient || !v.memory[tapered]
                      ? off
                      : -m.below_termination(v) - taper_hysteresis * m.p_.termination_current.si();
         },
         [](const C&, const View&, Writable& w) {
           w.memory[tapered] = 0;
           w.alarm[complete_alarm] = never;
         })
        .routine();
    t.alarm("recharge armed", "the shortest time since completion is over", [](const C&, const View&, Writable& w) {
      w.memory[recharge_held] = 0;
      w.alarm[recharge_alarm] = never;
    });
    t.alarm("charge complete", "constant-voltage current stayed at or below the termination current",
            [](const C& m, const View&, Writable& w) {
              w.memory[tapered] = 0;
              w.alarm[complete_alarm] = never;
              w.memory[terminated] = 1;
              w.memory[recharge_held] = 1;
              w.alarm[recharge_alarm] = w.now.utc + ticks(m.p_.recharge_delay);
            });
    t.event(
        "recharge", "the complete cell fell to the recharge voltage",
        [](const C& m, const View& v) {
          return !v.transient && v.memory[terminated] && !v.memory[recharge_held]
                     ? m.p_.recharge_voltage.si() - m.output(v)
                     : off;
        },
        [](const C&, const View&, Writable& w) { w.memory[terminated] = 0; });
    t.event(
        "input gone", "the light is too weak; the next light starts a new charge",
        [](const C& m, const View& v) {
          return !v.transient && v.memory[terminated] ? m.p_.sleep_headroom.si() - m.headroom(v) : off;
        },
        [](const C&, const View&, Writable& w) { w.memory[terminated] = 0; });
    // Releases before blocks: after a jump over the whole window, both are due at once and the later reset stands.
    t.event(
        "warm enough", "the cell left the cold limit behind",
        [](const C& m, const View& v) {
          return v.memory[temperature_block] == below ? v.line[0] - (m.p_.cold_limit + m.p_.temperature_hysteresis).si()
                                                      : off;
        },
        [](const C&, const View&, Writable& w) { w.memory[temperature_block] = within; });
    t.event(
        "cool enough", "the cell left the hot limit behind",
        [](const C& m, const View& v) {
          return v.memory[temperature_block] == above ? (m.p_.hot_limit - m.p_.temperature_hysteresis).si() - v.line[0]
                                                      : off;
        },
        [](const C&, const View&, Writable& w) { w.memory[temperature_block] = within; });
    t.event(
        "too cold", "the cell is at the cold limit: charging stops",
        [](const C& m, const View& v) {
          return std::isnan(v.line[0]) || v.memory[temperature_block] == below ? off : m.p_.cold_limit.si() - v.line[0];
        },
        [](const C&, const View&, Writable& w) { w.memory[temperature_block] = below; });
    t.event(
        "too hot", "the cell is at the hot limit: charging stops",
        [](const C& m, const View& v) {
          return std::isnan(v.line[0]) || v.memory[temperature_block] == above ? off : v.line[0] - m.p_.hot_limit.si();
        },
        [](const C&, const View&, Writable& w) { w.memory[temperature_block] = above; });
    t.refuses_by("regime");
    t.fault("stuck-on", "it charges with charge_current whatever the cell says: it never ends, and knows no limits",
            &LinearCharger::stick_on);
    t.fault("stuck-off", "it does not charge, and is as good as asleep", [](P& p, const FaultValues&) {
      p.stuck = StuckCharger::off;
      p.charge_current = p.precharge_current = Current{0.0};
      p.termination_current = Current{-1.0};  // nor does it find the cell full
    });
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> LinearCharger::build(const LinearChargerParameters& p, std::vector<Finding>& findings) {
  const auto check = [&](bool fine, const char* field, std::string message, std::string suggestion) {
    if (!fine) findings.push_back({field, std::move(message), std::move(suggestion)});
  };
  check(p.precharge_current <= p.charge_current, "precharge_current", "pre-charge is stronger than the charge itself",
        "use about a tenth of charge_current");
  check(p.termination_current < p.charge_current, "termination_current",
        "the charge would be complete before it reaches constant voltage", "use about a tenth of charge_current");
  check(p.precharge_voltage < p.charge_voltage, "precharge_voltage", "pre-charge would never end before full charge",
        "choose a value below charge_voltage");
  check(p.precharge_hysteresis < p.precharge_voltage, "precharge_hysteresis",
        "the lower threshold would not be positive", "choose a value below precharge_voltage");
  check(p.recharge_voltage < p.charge_voltage, "recharge_voltage", "recharge would begin at once after completion",
        "choose 100 to 150 mV below charge_voltage");
  check(p.sleep_headroom < p.wake_headroom, "wake_headroom", "the charger would fall asleep as it wakes",
        "choose a value above sleep_headroom");
  check(p.input_hysteresis < p.input_minimum, "input_hysteresis", "the lower lockout threshold would not be positive",
        "choose a value below input_minimum");
  check(p.standby_current <= p.awake_current, "standby_current", "it is larger than awake_current",
        "the charger takes less asleep than awake");
  check(p.cold_limit + p.temperature_hysteresis < p.hot_limit - p.temperature_hysteresis, "hot_limit",
        "no temperature is left between the cold and the hot limit", "raise hot_limit or lower cold_limit");
  if (!findings.empty()) return nullptr;
  return std::make_shared<LinearCharger>(p);
}

void LinearCharger::stick_on(LinearChargerParameters& p, const FaultValues&) {
  constexpr double out_of_reach = 1e3;
  p.stuck = StuckCharger::on;
  p.precharge_current = p.charge_current;
  p.reverse_leakage = out_of_reach * p.reverse_leakage;  // (6) stays as it is
  p.charge_voltage = out_of_reach * p.charge_voltage;
  p.cold_limit = Temperature{0.0};
  p.hot_limit = out_of_reach * p.hot_limit;
}

void LinearCharger::take_over(const Model&, const View&, Writable& w, double*) const {
  if (p_.stuck != StuckCharger::on) return;
  w.memory[terminated] = w.memory[tapered] = 0;
  w.alarm[complete_alarm] = never;
  w.memory[temperature_block] = within;
}

void LinearCharger::start(const Ambient&, Writable& w) const {
  std::fill(w.memory, w.memory + memory_count, 0);
  w.alarm[recharge_alarm] = w.alarm[complete_alarm] = never;
}

Current LinearCharger::set_current(const View& view) const {
  if (view.memory[terminated] || view.memory[temperature_block] != within) return Current{0.0};
  return view.memory[precharging] ? p_.precharge_current : p_.charge_current;
}

double LinearCharger::below_termination(const View& v) const {
  if (v.memory[terminated] || v.memory[temperature_block] != within) return off;
  const Limits<double> l = limits(v);
  return std::min({p_.termination_current.si() - l.cv, l.drop - l.cv, headroom(v) - p_.wake_headroom.si(),
                   input(v) - p_.input_minimum.si()});
}

double LinearCharger::charging(const View& view) const {
  const Limits<double> l = limits(view);
  return soft_min(soft_min(l.set, l.cv), l.drop);
}

LinearCharger::Regime LinearCharger::regime(const View& view) const {
  const Limits<double> l = limits(view);
  if (headroom(view) <= p_.wake_headroom.si() || p_.stuck == StuckCharger::off) return asleep;
  if (view.memory[temperature_block] == below) return too_cold;
  if (view.memory[temperature_block] == above) return too_hot;
  if (view.memory[terminated]) return complete;
  if (l.drop <= 0) return asleep;
  if (l.drop <= l.set && l.drop <= l.cv) return drop_out;
  if (l.cv < l.set) return constant_voltage;
  return view.memory[precharging] ? precharge : constant_current;
}

void LinearCharger::flows(const View& view, double* flow) const {
  const Limits<double> l = limits(view);
  flow[0] = headroom(view) * charging(view);
  flow[1] = (view.z[0] - view.z[2]) * l.supply;
  flow[2] = output(view) * l.leak;
}

}  // namespace overwinter
