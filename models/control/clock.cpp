#include "models/control/clock.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace overwinter {

namespace {
constexpr double for_ever = std::numeric_limits<std::int32_t>::max();  // s, 68 years
}

const ModelTable& Clock::describe() {
  static const ModelTable table = [] {
    using P = ClockParameters;
    using C = Clock;
    TableBuilder<C, P> t("clock", "Real-time clock: one alarm, an open-drain interrupt line, a backup coin cell.");
    t.equation("1", "a clock second lasts 1/(1 + d) s, d = drift - k (T - T0)^2",
               "parabola of a tuning-fork crystal about its turnover temperature: common practice");
    t.equation("2", "I = p Is from the supply, (1 - p) Ib from the coin cell", "supply switch-over: common practice");
    t.equation("3", "dq/dt = -(1 - p) Ib - r q", "charge balance of the coin cell");
    t.equation("4", "interrupt: I = V/Ron while pulling, I = V Gleak otherwise", "open-drain output: common practice");
    t.scalar("supply_current", &P::supply_current, "uA")
        .at_least(0)
        .at_most(0.01)
        .meaning("Is: own consumption from the supply")
        .source("1 to 5 uA: common practice");
    t.scalar("switch_over", &P::switch_over, "V")
        .at_least(0.5)
        .at_most(10)
        .meaning("supply voltage below which the coin cell takes over")
        .source("common practice");
    t.scalar("backup_capacity", &P::backup_capacity, "mAh")
        .above(0)
        .at_most(36000)
        .meaning("of the coin cell; left out where none is fitted");
    t.scalar("backup_charge", &P::backup_charge, "%")
        .at_least(0)
        .at_most(1)
        .meaning("charge of the coin cell at the start of the span")
        .source("full: a new coin cell, common practice");
    t.scalar("backup_voltage", &P::backup_voltage, "V")
        .above(0)
        .at_most(10)
        .meaning("of the coin cell, taken as constant")
        .source("3.0 V: nominal voltage of a lithium-manganese dioxide cell, IEC 60086-2 letter C");
    t.scalar("backup_current", &P::backup_current, "uA")
        .at_least(0)
        .at_most(0.01)
        .meaning("Ib: own consumption from the coin cell")
        .source("1 to 5 uA: common practice");
    t.scalar("backup_self_discharge", &P::backup_self_discharge, "%/year")
        .at_least(0)
        .at_most(1.0 / 31556925.97)
        .meaning("r: share of what is left")
        .source("1 % per year: common practice");
    t.scalar("drift", &P::drift, "ppm")
        .at_least(-0.01)
        .at_most(0.01)
        .meaning("how much the clock gains at its turnover temperature");
    t.scalar("drift_curvature", &P::drift_curvature, "ppm/K2")
        .at_least(0)
        .at_most(1e-6)
        .meaning("k: how much it loses away from the turnover temperature; 0 for a compensated oscillator")
        .source("0.035 ppm/K2: common practice for tuning-fork crystals");
    t.scalar("turnover", &P::turnover, "degC")
        .at_least(200)
        .at_most(400)
        .meaning("T0: temperature at which the crystal is fastest")
        .source("25 degC: common practice");
    t.scalar("first_alarm", &P::first_alarm, "min")
        .at_least(1)
        .at_most(366 * 86400.0)
        .meaning("from the start of the span to the first alarm")
        .source("at once, but after the events of the start itself: class assumption");
    t.choice("alarm_match", &P::alarm_match, {"year", "date", "weekday", "hours", "minutes", "seconds"})
        .meaning(
            "highest register of the alarm that is compared, with all below it: seconds (matches once a minute), "
            "minutes "
            "(minutes and seconds, once an hour), hours (and below, once a day), weekday (day of the week and time of "
            "day, once a week), date (day of the month and time of day, once a month), year (everything, so that an "
            "alarm in the past never comes)")
        .source("the alarm comes as it was meant: class assumption; most clocks have registers up to date");
    t.scalar("interrupt_resistance", &P::interrupt_resistance, "ohm")
        .above(0)
        .at_most(1e5)
        .meaning("Ron of the interrupt output")
        .source("0.4 V at a few milliamperes: common practice");
    t.scalar("interrupt_leakage", &P::interrupt_leakage, "uA")
        .at_least(0)
        .at_most(0.001)
        .meaning("of the interrupt output at 5 V while it does not pull")
        .source("common practice");

    t.pin("supply", "main supply");
    t.pin("ground", "return");
    t.pin("interrupt", "pulls its line down while the alarm flag is set", PinRole::open_drain);
    t.line_input("bus", LineKind::bus, "what the controller last wrote");
    t.state("backup", unit_of<Charge>("mAh"), 3600.0, "charge left in the coin cell");
    t.output("flag", unit_of<double>("1"), "alarm flag", [](const C&, const View& v) { return double(v.memory[flag]); },
             {"clear", "set"});
    t.output("backup_charge", unit_of<Charge>("mAh"), "charge left in the coin cell",
             [](const C&, const View& v) { return v.x[backup]; });
    t.output(
        "alarm_shift", unit_of<Duration>("h"),
        "by how much the alarm last written comes later than it was meant, less than 0: sooner; 68 years for never",
        [](const C&, const View& v) { return double(v.memory[late_by]) - v.memory[early_by]; });
    t.flow("consumption", FlowKind::lost, "supply voltage times own consumption");
    t.flow("interrupt", FlowKind::lost, "in the interrupt output");
    t.flow("backup", FlowKind::lost, "taken from the coin cell, self-discharge included");
    t.flow("backup_energy", FlowKind::stored, "coin-cell voltage times rate of charge");
    t.condition("alarm", "what is left of the alarm that is to wake the instrument")
        .way(
            "pending", "it is still to come due", [](const C&, Writable&) {},
            [](const C&, const View& v, const Tick* alarm) { return !v.memory[flag] && alarm[0] != never; })
        .way(
            "flag set", "it came due while the instrument lay dead, and the flag waits",
            [](const C&, Writable& w) {
              w.memory[flag] = 1;
              w.alarm[0] = never;
            },
            [](const C&, const View& v, const Tick*) { return v.memory[flag] == 1; })
        .way(
            "lost", "neither flag nor alarm", [](const C&, Writable& w) { w.alarm[0] = never; },
            [](const C&, const View& v, const Tick* alarm) { return !v.memory[flag] && alarm[0] == never; });
    t.condition("coin cell", "what keeps the clock while it has no supply")
        .way(
            "good", "as at the start of the span", [](const C&, Writable&) {},
            [](const C&, const View& v, const Tick*) { return !v.memory[backup_empty]; })
        .way(
            "gone", "empty, fallen out, or never fitted",
            [](const C&, Writable& w) {
              w.x[backup] = 0;
              w.memory[backup_empty] = 1;
            },
            [](const C&, const View& v, const Tick*) { return v.memory[backup_empty] == 1; });
    t.contradiction([](const C&, const View& v, const Tick* alarm) -> std::string {
      const bool lost = !v.memory[flag] && alarm[0] == never;
      return lost && !v.memory[backup_empty] ? "it keeps its alarm as long as the coin cell is good" : "";
    });
    t.drives(1);
    t.memories(memory_count);

    t.alarm("alarm", "the alarm comes due and sets its flag",
            [](const C&, const View& v, Writable& w) {
              w.alarm[0] = never;
              if (!v.memory[stopped]) w.memory[flag] = 1;
            })
        .role(EventRole::alarm_due)
        .calendar();
    t.event(
         "alarm written", "the controller sets the next alarm",
         [](const C&, const View& v) {
           const Bus bus = Bus::from(v.line);
           return bus.writes == bus.writes && bus.writes != v.memory[seen_writes] ? 1.0 : -1.0;
         },
         [](const C& m, const View& v, Writable& w) {
           const Bus bus = Bus::from(v.line);
           w.memory[seen_writes] = static_cast<std::int32_t>(bus.writes);
           if (v.memory[stopped]) return;
           m.set_alarm(bus, v, w);
           if (bus.clears_flag != 0) w.memory[flag] = 0;
         })
        .routine();
    t.event(
         "alarm already past",
         "the alarm was past when the controller set it: it comes when its registers match again, or never",
         [](const C&, const View& v) { return v.memory[news] == past ? 1.0 : -1.0; },
         [](const C&, const View&, Writable& w) { w.memory[news] = nothing; })
        .role(EventRole::alarm_lost);
    t.event(
        "alarm before its time", "the alarm is further ahead than the compared registers tell apart: it comes sooner",
        [](const C&, const View& v) { return v.memory[news] == early ? 1.0 : -1.0; },
        [](const C&, const View&, Writable& w) { w.memory[news] = nothing; });
    t.event(
        "coin cell empty", "the backup coin cell has nothing left",
        [](const C& m, const View& v) { return m.p_.backup_capacity && !v.memory[backup_empty] ? -v.x[backup] : -1.0; },
        [](const C&, const View&, Writable& w) { w.memory[backup_empty] = 1; });
    t.event(
         "clock stops", "neither supply nor coin cell: time and alarm are lost",
         [](const C& m, const View& v) {
           if (v.memory[stopped] || !v.memory[backup_empty]) return -1.0;
           return m.p_.switch_over.si() - switch_over_window - (v.z[0] - v.z[1]);
         },
         [](const C&, const View&, Writable& w) {
           w.memory[stopped] = 1;
           w.memory[flag] = 0;
           w.memory[news] = nothing;
           w.alarm[0] = never;
         })
        .role(EventRole::alarm_lost);
    t.event(
        "clock restarts", "the clock has a supply again, but no alarm is set",
        [](const C& m, const View& v) { return v.memory[stopped] ? (v.z[0] - v.z[1]) - m.p_.switch_over.si() : -1.0; },
        [](const C&, const View&, Writable& w) { w.memory[stopped] = 0; });
    t.fault("stuck-low", "its interrupt pulls the line down all the time",
            [](P& p, const FaultValues&) { p.stuck = StuckInterrupt::low; });
    t.fault("stuck-high", "its interrupt never pulls the line down",
            [](P& p, const FaultValues&) { p.stuck = StuckInterrupt::high; });
    t.fault("stopped", "its oscillator stands: no alarm comes; what is set comes later by that time",
            [](P& p, const FaultValues& f) { p.stands_until = std::max(p.stands_until, f.until); });
    t.fault(
        "backup-lost", "its coin cell has no contact: without the supply, time, alarm and flag are lost",
        [](P& p, const FaultValues&) { p.backup_lost = true; }, {},
        [](const P& p, const FaultValues&) -> std::optional<Finding> {
          if (p.backup_capacity) return std::nullopt;
          return Finding{"fault", "it has no coin cell to lose", "backup_capacity: 220 mAh for the part"};
        });
    return t.done();
  }();
  return table;
}

Clock::Clock(const ClockParameters& p) : p_(p) {
  const double pulls = 1 / p.interrupt_resistance.si(), leaks = p.interrupt_leakage.si() / leakage_voltage;
  interrupt_[0] = p.stuck == StuckInterrupt::low ? pulls : leaks;
  interrupt_[1] = p.stuck == StuckInterrupt::high ? leaks : pulls;
}

std::shared_ptr<const Model> Clock::build(const ClockParameters& p, std::vector<Finding>&) {
  return std::make_shared<Clock>(p);
}

double Clock::deviation(Temperature air) const {
  const Temperature off = air - p_.turnover;
  return p_.drift - p_.drift_curvature * off * off;  // (1)
}

Tick Clock::alarm_after(double seconds, const View& view, Tick now) const {
  if (p_.stands_until == never) return never;
  return std::max(now, p_.stands_until) +
         static_cast<Tick>(std::llround(seconds * ticks_per_second / (1 + deviation(Temperature{view.drive[0]}))));
}

void Clock::set_alarm(const Bus& bus, const View& view, Writable& w) const {
  const double ahead = bus.interval - bus.elapsed * (1 + deviation(Temperature{view.drive[0]}));
  const std::optional<double> comes = first_match(p_.alarm_match, ahead, w.now);
  w.alarm[0] = comes ? alarm_after(*comes, view, w.now.utc) : never;
  const double late = comes ? std::round(*comes - ahead) : for_ever;
  w.memory[late_by] = static_cast<std::int32_t>(std::clamp(late, 0.0, for_ever));
  w.memory[early_by] = static_cast<std::int32_t>(std::clamp(-late, 0.0, for_ever));
  w.memory[news] = ahead <= 0 ? past : late < 0 ? early : nothing;
}

void Clock::start(const Ambient& ambient, Writable& w) const {
  w.x[backup] = p_.backup_capacity ? p_.backup_charge * p_.backup_capacity->si() : 0;
  w.memory[flag] = 0;
  w.memory[seen_writes] = 0;
  w.memory[stopped] = 0;
  w.memory[backup_empty] = w.x[backup] > 0 && !p_.backup_lost ? 0 : 1;
  w.memory[late_by] = 0;
  w.memory[early_by] = 0;
  w.memory[news] = nothing;
  const double air = ambient.air.si();
  View view;
  view.drive = &air;
  w.alarm[0] = alarm_after(p_.first_alarm.si(), view, w.now.utc);
}

/// An alarm comes later by the time that the oscillator still stands, and no longer by that which it would have stood.
void Clock::take_over(const Model& former, const View& view, Writable& w, double*) const {
  const ClockParameters& before = static_cast<const Clock&>(former).p_;
  const Tick now = w.now.utc;
  if (w.alarm[0] != never && p_.stands_until == never) {
    w.alarm[0] = never;
  } else if (w.alarm[0] != never) {
    w.alarm[0] += std::max(now, p_.stands_until) - std::max(now, before.stands_until);
  }
  if (p_.backup_lost) w.memory[backup_empty] = 1;
  if (before.backup_lost && !p_.backup_lost) w.memory[backup_empty] = view.x[backup] > 0 ? 0 : 1;
}

void Clock::guess(const View&, double* z) const { z[0] = p_.switch_over.si() + 0.1; }

double Clock::interrupt_conductance(const View& view) const { return interrupt_[view.memory[flag]]; }

double Clock::backup_load(const View& view) const {
  return view.memory[backup_empty] ? 0 : (1 - supplied(view.z[0] - view.z[1])) * p_.backup_current.si();
}

double Clock::backup_leakage(const View& view) const {
  return view.memory[backup_empty] ? 0 : p_.backup_self_discharge.si() * view.x[backup];
}

void Clock::rates(const View& view, double* dxdt) const {
  dxdt[backup] = -(backup_load(view) + backup_leakage(view));  // (3)
}

void Clock::flows(const View& view, double* flow) const {
  const double v = view.z[0] - view.z[1], line = view.z[2] - view.z[1];
  double rate = 0;
  rates(view, &rate);
  flow[0] = v * supply_current(v);
  flow[1] = line * line * interrupt_conductance(view);
  flow[2] = -p_.backup_voltage.si() * rate;
  flow[3] = p_.backup_voltage.si() * rate;
}

}  // namespace overwinter
