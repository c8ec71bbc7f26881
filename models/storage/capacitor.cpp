#include "models/storage/capacitor.hpp"

#include <algorithm>
#include <cmath>

#include "models/ticks.hpp"

namespace overwinter {

namespace {
constexpr double not_now = -1.0;  // a guard that cannot be due in the present regime

// Bounds of the law, found by runs at and beyond them behind boost converters of 0.5 A and 1 A.
constexpr double lowest_band = 1e-3;     // V, below it ever more steps and events: the corner of (1) is 0.1 mV wide
constexpr double shortest_time = 10e-3;  // s, a fast loop against the steps of a wake
constexpr double left_out = 0.4e-6;      // F, of what a settled run takes no notice
constexpr double most_at_once = 2;  // of the voltage that a charge leads to: what is drawn in one, old debts with it
constexpr double most_on_credit =
    8;                             // whole charges: without a bound a loop of brief feeds would run on credit for ever
constexpr double rounding = 1e-9;  // a limit given in other units is still the limit
constexpr double strongest_charge = 0.1;  // A per volt of rise; an ampere per volt ties converters up in failed starts

}  // namespace

const ModelTable& Capacitor::describe() {
  static const ModelTable table = [] {
    using P = CapacitorParameters;
    using C = Capacitor;
    TableBuilder<C, P> t("capacitor", "A capacitor that follows its net and holds it up when the feed is lost.");
    t.equation("1", "fed: I = 0 while V stays within the tracking band d, I = -(u - 2d - V)/R below it",
               "class assumption");
    t.equation("2", "charging: I = C (V - x)/tc from the moment it begins; u follows V at once if the feed bears that",
               "charge of a capacitor, drawn evenly: class assumption");
    t.equation("3", "on its own: I = (V - u)/R, charging limited to C d/tc", "Ohm's law");
    t.equation("4", "Ileak = V/Rleak, or u/Rleak while on its own", "Ohm's law");
    t.equation("5", "C dx/dt = I, less Ileak while on its own; db/dt = -I/C while u stands and is paid for",
               "definition of capacitance");
    t.equation("6", "E = C x^2 / 2", "energy of a capacitor, textbook");
    t.equation("7", "in a transient: I = (V - u)/R", "Ohm's law");
    t.equation("8", "x = V - R I - b as a transient begins, I of the settled network", "Ohm's law");

    t.scalar("capacitance", &P::capacitance, "uF").required().above(0).at_most(0.1).meaning("C, at the voltage in use");
    t.scalar("series_resistance", &P::series_resistance, "mohm")
        .required()
        .above(0)
        .at_most(100)
        .meaning("Resr, equivalent series resistance");
    t.scalar("leakage_resistance", &P::leakage_resistance, "Mohm")
        .above(0)
        .meaning("Rleak; without it or insulation_time nothing leaks");
    t.scalar("insulation_time", &P::insulation_time, "s")
        .above(0)
        .meaning("Rleak C in place of leakage_resistance: 1 s is 1 ohm F");
    t.scalar("tracking_band", &P::tracking_band, "mV")
        .at_least(lowest_band)
        .at_most(1)
        .meaning("d: how far the net may move before the capacitor's charge follows")
        .source("class assumption");
    t.scalar("charging_time", &P::charging_time, "s")
        .at_least(shortest_time)
        .at_most(60)
        .meaning("tc: time over which a change of charge is drawn; at least R C, and 10 s for each farad")
        .source("class assumption");

    t.pin("plus", "positive terminal");
    t.pin("minus", "negative terminal");
    t.fast_state("voltage", unit_of<Voltage>("V"), 50.0, "x: of the store, as far as its charge has been drawn");
    t.following_state("charging_current", unit_of<Current>("mA"), 1.0, "drawn while charging; constant until it ends");
    t.following_state("target", unit_of<Voltage>("V"), 1.0, "voltage that the present charge leads to");
    t.following_state("begun", unit_of<Voltage>("V"), 1.0, "voltage at which the present charge or rest began");
    t.following_state("lead", unit_of<Voltage>("V"), 1.0, "b: how far the store stands above what has been drawn");
    t.output("voltage", unit_of<Voltage>("V"), "of the store",
             [](const C& m, const View& v) { return m.settles_elsewhere(v) ? m.across(v) : store(v); });
    t.output("regime", unit_of<double>("1"), "how it follows its net",
             [](const C&, const View& v) { return static_cast<double>(v.memory[0]); },
             {"fed", "charging", "charging weakly", "discharging", "settled", "idle", "paying", "starved"});
    t.output("current", unit_of<Current>("mA"), "into plus, leakage included", [](const C& m, const View& v) {
      double f[2];
      m.evaluate(v, f);
      return f[0];
    });
    t.flow("store", FlowKind::stored, "into the store");
    t.flow("series", FlowKind::lost, "series resistance, and the resistance of the feed while charging");
    t.flow("leakage", FlowKind::lost, "through the insulation");

    t.missing_charge([](const C& m, const View& v) {
      const bool began = v.memory[0] == charging || v.memory[0] == paying;
      return began ? m.sum_ * (v.x[target] - v.x[begun]) : 0.0;
    });
    t.memories(1);
    t.alarm("charging over", "the charge has followed the net", [](const C& m, const View&, Writable& w) {
       m.leave(fed, w);
     }).routine();
    t.alarm("tries again", "a feed that broke down is asked again", [](const C& m, const View&, Writable& w) {
       m.leave(idle, w);
     }).routine();
    t.event(
         "follows", "the feed bears the charging current: the store stands where its net is",
         [](const C& m, const View& v) {
           const bool may = v.memory[0] == charging && v.x[voltage] > -most_on_credit * std::abs(v.x[target]);
           return v.transient || !may ? not_now : m.across(v) - (v.x[target] - m.band() / 2);
         },
         [](const C&, const View& v, Writable& w) {
           w.memory[0] = paying;
           w.x[lead] = v.x[target] - v.x[voltage];
         })
        .routine();
    t.event(
         "feed is weak", "the feed cannot give the charging current",
         [](const C& m, const View& v) {
           if (v.transient || !charges(v)) return not_now;
           const double u = store(v);
           const double weak = std::min(m.meeting() - (m.across(v) - u), v.x[target] - m.band() / 2 - u);
           return v.memory[0] == charging ? weak : std::min(weak, u - v.x[begun] - m.meeting());
         },
         [](const C& m, const View& v, Writable& w) {
           const double half = m.into_store(v, m.across(v)) / 2;
           if (half >= m.weak_current() / 4) {
             m.charge(charging_weakly, half, v.x[target] - store(v), v.x[target], v, w);
           } else {
             m.rest(v, w);
           }
         })
        .routine();
    t.event(
         "holds", "the net fell below it",
         [](const C& m, const View& v) {
           return on_its_own(v) || m.carried_ ? not_now : store(v) - m.across(v) - m.band();
         },
         [](const C& m, const View& v, Writable& w) {
           if (charges(v)) {
             m.starve(v, w);
           } else if (v.memory[0] == settled) {
             m.rest(v, w);
           } else {
             m.leave(discharging, w);
           }
         })
        .routine();
    t.event(
         "settles", "it gives next to nothing: the net is fed, or at rest",
         [](const C& m, const View& v) {
           return !v.transient && v.memory[0] == discharging ? m.quiet() + m.into_store(v, m.across(v)) : not_now;
         },
         [](const C& m, const View&, Writable& w) { m.leave(settled, w); })
        .routine();
    t.event(
         "settles empty", "at rest next to nothing is left of its voltage",
         [](const C& m, const View& v) {
           const double from = v.x[begun];
           if (v.transient || v.memory[0] != idle || !(from > 0)) return not_now;
           return std::max(from / 1000, std::min(m.empty(), from / 10)) - store(v);
         },
         [](const C& m, const View&, Writable& w) { m.leave(settled, w); })
        .routine();
    t.held_up("settles in contact", "its contact with a feed holds the integration up",
              [](const C& m, const View& v, Writable& w) {
                if (v.memory[0] == idle) m.leave(settled, w);
              })
        .routine();
    t.event(
         "drawn again", "more is drawn from it than at rest",
         [](const C& m, const View& v) {
           return !v.transient && v.memory[0] == idle ? -m.into_store(v, m.across(v)) - 2 * m.quiet() : not_now;
         },
         [](const C& m, const View&, Writable& w) { m.leave(discharging, w); })
        .routine();
    // Last: of the resets of one round it must stand.
    t.event(
         "charges", "the net rose above it",
         [](const C& m, const View& v) {
           if (v.transient || charges(v) || v.memory[0] == starved || m.carried_) return not_now;
           return m.across(v) - store(v) - m.band();
         },
         [](const C& m, const View& v, Writable& w) {
           const double end = m.across(v) - m.band() / 2;  // where V, lowered by the current, does not limit it yet
           const double missing = end - store(v), unpaid = end - v.x[voltage];
           const double drawn = std::max(missing, std::min(unpaid, most_at_once * std::abs(end)));
           m.charge(charging, m.sum_ * drawn / m.charging_time_, unpaid, end, v, w);
         })
        .routine();
    return t.done();
  }();
  return table;
}

Capacitor::Capacitor(const CapacitorParameters& p) : Capacitor(p, Capacitance{0.0}) {}

Capacitor::Capacitor(const CapacitorParameters& p, Capacitance carries)
    : p_(p), sum_(p.capacitance.si() + std::max(0.0, carries.si())) {
  carried_ = carries.si() < 0 || sum_ < left_out;
  charging_time_ = std::max({p.charging_time.si(), sum_ * p.series_resistance.si(), sum_ / strongest_charge});
  if (p.leakage_resistance) leakage_ = 1 / p.leakage_resistance->si();
  if (p.insulation_time) leakage_ = p.capacitance.si() / p.insulation_time->si();
}

std::shared_ptr<const Model> Capacitor::build(const CapacitorParameters& p, std::vector<Finding>& findings) {
  if (p.leakage_resistance && p.insulation_time) {
    findings.push_back({"insulation_time", "leakage_resistance says the same already", "remove one of the two"});
  }
  if (p.series_resistance * p.capacitance > p.charging_time * (1 + rounding)) {
    findings.push_back({"charging_time",
                        "it is shorter than series_resistance times capacitance, the time in which the capacitor can "
                        "charge",
                        "raise it, or choose a smaller series_resistance"});
  }
  if (p.capacitance.si() > strongest_charge * p.charging_time.si() * (1 + rounding)) {
    findings.push_back({"charging_time",
                        "so much capacitance in so short a time would draw more than 0.1 A for each volt of rise",
                        "charging_time: 10 s for each farad, or more"});
  }
  if (!findings.empty()) return nullptr;
  return std::make_shared<Capacitor>(p);
}

std::shared_ptr<const Model> Capacitor::in_parallel(const std::vector<const Model*>& all, std::size_t self) const {
  const auto capacitance = [&](std::size_t i) { return static_cast<const Capacitor*>(all[i])->p_.capacitance.si(); };
  std::size_t largest = 0;
  double sum = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (capacitance(i) > capacitance(largest)) largest = i;
    sum += capacitance(i);
  }
  return std::make_shared<Capacitor>(p_, Capacitance{self == largest ? sum - p_.capacitance.si() : -1.0});
}

void Capacitor::start(const Ambient&, Writable& w) const {
  w.x[voltage] = 0;
  w.x[charging_current] = 0;
  w.x[target] = 0;
  w.x[begun] = 0;
  w.x[lead] = 0;
  w.memory[0] = fed;
  w.alarm[charging_over] = w.alarm[tries_again] = never;
}

/// `rise`: what is to be drawn over C, V.
void Capacitor::charge(Regime regime, double ampere, double rise, double target_voltage, const View& view,
                       Writable& w) const {
  w.memory[0] = regime;
  w.x[charging_current] = ampere;
  w.x[target] = target_voltage;
  w.x[begun] = store(view);
  w.alarm[charging_over] = w.now.utc + std::max<Tick>(1, ticks(Duration{sum_ * rise / ampere}));
}

void Capacitor::enter_transient(const View& view, Writable& w, double* booked) const {
  double f[2];
  evaluate(view, f);
  const double before = view.x[voltage];
  w.x[voltage] = across(view) - p_.series_resistance.si() * f[0] - view.x[lead];            // (8)
  if (!carried_) booked[0] = sum_ * (w.x[voltage] + before) * (w.x[voltage] - before) / 2;  // (6)
  booked[1] = -booked[0];
  leave(fed, w);
}

void Capacitor::leave_transient(const View&, Writable& w) const { leave(discharging, w); }

/// What it gives is seen only in the next round.
void Capacitor::rest(const View& view, Writable& w) const {
  leave(idle, w);
  w.x[begun] = store(view);
}

void Capacitor::starve(const View& view, Writable& w) const {
  rest(view, w);
  w.memory[0] = starved;
  w.alarm[tries_again] = w.now.utc + ticks(Duration{charging_time_ / 4});
}

void Capacitor::leave(Regime to, Writable& w) const {
  w.memory[0] = to;
  w.alarm[charging_over] = w.alarm[tries_again] = never;
  w.x[charging_current] = 0;
}

void Capacitor::rates(const View& view, double* dxdt) const {
  const double leak = on_its_own(view) ? store(view) * leakage_ : 0, i = into_store(view, across(view)) - leak;  // (4)
  dxdt[voltage] = i / (view.transient ? p_.capacitance.si() : sum_);  // (5), (9)
  dxdt[charging_current] = 0;
  dxdt[target] = 0;
  dxdt[begun] = 0;
  dxdt[lead] = view.memory[0] == paying && !view.transient ? -dxdt[voltage] : 0;  // (5)
}

/// The leakage. The contact with the net is no decay: on a net that nothing feeds, V goes with x.
void Capacitor::decay(const View& view, double* rate) const {
  if (on_its_own(view)) rate[voltage] = leakage_ / (view.transient ? p_.capacitance.si() : sum_);  // (5)
}

void Capacitor::flows(const View& view, double* flow) const {
  const double x = view.x[voltage], v = across(view), i = into_store(view, v);
  const bool own = on_its_own(view);
  const double leaking = own ? store(view) : v, leak = leaking * leakage_;
  const double moved = view.transient ? sum_ / p_.capacitance.si() : 1;  // (9)
  flow[2] = leaking * leak;
  flow[0] = carried_ ? 0 : x * (own ? i - leak : i) * moved;
  flow[1] = v * (own ? i : i + leak) - flow[0] - flow[2];
}

double Capacitor::stored_energy(const View& view) const {
  return carried_ ? 0 : sum_ * view.x[voltage] * view.x[voltage] / 2;  // (6), (9)
}

}  // namespace overwinter
