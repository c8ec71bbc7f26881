#include "models/storage/capacitor.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {
constexpr double not_now = -1.0;        // a guard that cannot be due in the present regime
constexpr double longest_charge = 600;  // s, then a weak feed is looked at anew

Tick ticks(Duration d) { return static_cast<Tick>(std::llround(d.si() * ticks_per_second)); }
}  // namespace

const ModelTable& Capacitor::describe() {
  static const ModelTable table = [] {
    using P = CapacitorParameters;
    using C = Capacitor;
    TableBuilder<C, P> t("capacitor", "A capacitor that follows its net and holds it up when the feed is lost.");
    t.equation("1", "Igive = (x - b - V) / Resr, not below 0; b = 0 while discharging or idle, 4 d otherwise",
               "Ohm's law, one-sided: class assumption");
    t.equation("2", "Itake = C (V - x) / tc from the moment the charging begins, until x meets V",
               "charge of a capacitor, spread evenly: class assumption");
    t.equation("3", "Ileak = V / Rleak, or x / Rleak while discharging or idle", "Ohm's law");
    t.equation("4", "I = Itake - Igive, and Ileak unless discharging or idle", "Kirchhoff's current law");
    t.equation("5", "C dx/dt = Itake - Igive, less Ileak while discharging or idle", "definition of capacitance");
    t.equation("6", "E = C x^2 / 2", "energy of a capacitor, textbook");

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
        .above(0)
        .at_most(1)
        .meaning("d: how far the net may move before the capacitor's charge follows")
        .source("class assumption");
    t.scalar("charging_time", &P::charging_time, "s")
        .above(0)
        .at_most(60)
        .meaning("tc: time over which a change of charge is spread")
        .source("class assumption");

    t.pin("plus", "positive terminal");
    t.pin("minus", "negative terminal");
    t.state("voltage", unit_of<Voltage>("V"), 1.0, "of the store, without the drop over the series resistance");
    t.state("charging_current", unit_of<Current>("mA"), 1.0, "drawn while charging; constant until it ends");
    t.state("target", unit_of<Voltage>("V"), 1.0, "voltage that the present charge leads to");
    t.output("voltage", unit_of<Voltage>("V"), "of the store", [](const C&, const View& v) { return v.x[voltage]; });
    t.output("regime", unit_of<double>("1"), "how it follows its net",
             [](const C&, const View& v) { return static_cast<double>(v.memory[0]); },
             {"fed", "charging", "settling", "discharging", "idle"});
    t.flow("store", FlowKind::stored, "into the store");
    t.flow("series", FlowKind::lost, "series resistance, and the resistance of the feed while charging");
    t.flow("leakage", FlowKind::lost, "through the insulation");

    t.memories(1);
    // Of resets at one instant the later one stands.
    t.alarm("charging over", "the charge has followed the net, or the net has stood for the charging time",
            [](const C& m, const View& v, Writable& w) {
              const bool gave = v.memory[0] == charging && v.x[charging_current] < 0;
              w.memory[0] = gave ? settling : fed;
              w.alarm[0] = gave ? w.now.utc + ticks(m.p_.charging_time) : never;
              w.x[charging_current] = 0;
            })
        .routine();
    t.event(
         "gives back", "the net fell a little",
         [](const C& m, const View& v) {
           const double fall = v.x[voltage] - m.across(v);
           return v.memory[0] == fed ? std::min(fall - m.band(), m.reach() - fall) : not_now;
         },
         [](const C& m, const View& v, Writable& w) { m.charge(v, w); })
        .routine();
    t.event(
         "feed is weak", "the feed cannot give the charging current",
         [](const C& m, const View& v) {
           if (v.memory[0] != charging || v.x[charging_current] <= 0) return not_now;
           const double x = v.x[voltage];
           return std::min(m.meeting() - (m.across(v) - x), v.x[target] - m.band() / 2 - x);
         },
         [](const C& m, const View& v, Writable& w) {
           const double x = v.x[voltage], half = std::max(quiet, m.into_store(v, m.across(v)) / 2);
           w.x[charging_current] = half;
           const double seconds = m.p_.capacitance.si() * (v.x[target] - x) / half;
           w.alarm[0] = w.now.utc + ticks(Duration{std::min(seconds, longest_charge)});
         })
        .routine();
    t.event(
         "holds", "the net lost its feed",
         [](const C& m, const View& v) {
           return v.memory[0] == fed || v.memory[0] == charging ? v.x[voltage] - m.across(v) - m.reach() : not_now;
         },
         [](const C&, const View&, Writable& w) {
           w.memory[0] = discharging;
           w.x[charging_current] = 0;
           w.alarm[0] = never;
         })
        .routine();
    t.event(
         "settles", "nothing is drawn from it any more: the net is fed, or at rest",
         [](const C& m, const View& v) {
           return v.memory[0] == discharging ? quiet - m.given(v, m.across(v)) : not_now;
         },
         [](const C& m, const View&, Writable& w) {
           w.memory[0] = settling;
           w.alarm[0] = w.now.utc + ticks(m.p_.charging_time);
         })
        .routine();
    t.event(
         "not fed", "while settling, the net does not stand by itself",
         [](const C& m, const View& v) {
           return v.memory[0] == settling ? v.x[voltage] - m.across(v) - m.band() : not_now;
         },
         [](const C&, const View&, Writable& w) {
           w.memory[0] = idle;
           w.alarm[0] = never;
         })
        .routine();
    t.event(
         "drawn again", "the net at rest draws from it",
         [](const C& m, const View& v) { return v.memory[0] == idle ? m.given(v, m.across(v)) - 2 * quiet : not_now; },
         [](const C&, const View&, Writable& w) { w.memory[0] = discharging; })
        .routine();
    t.event(
         "charges", "the net rose above it",
         [](const C& m, const View& v) {
           if (v.memory[0] == charging) return not_now;
           return m.across(v) - v.x[voltage] - (unfed(v) ? m.band() / 10 : m.band());
         },
         [](const C& m, const View& v, Writable& w) { m.charge(v, w); })
        .routine();
    return t.done();
  }();
  return table;
}

Capacitor::Capacitor(const CapacitorParameters& p) : p_(p) {
  if (p.leakage_resistance) leakage_ = 1 / p.leakage_resistance->si();
  if (p.insulation_time) leakage_ = p.capacitance.si() / p.insulation_time->si();
}

std::shared_ptr<const Model> Capacitor::build(const CapacitorParameters& p, std::vector<Finding>& findings) {
  if (p.leakage_resistance && p.insulation_time) {
    findings.push_back({"insulation_time", "leakage_resistance says the same already", "remove one of the two"});
  }
  if (!findings.empty()) return nullptr;
  return std::make_shared<Capacitor>(p);
}

void Capacitor::start(const Ambient&, Writable& w) const {
  w.x[voltage] = 0;
  w.x[charging_current] = 0;
  w.x[target] = 0;
  w.memory[0] = fed;
  w.alarm[0] = never;
}

void Capacitor::charge(const View& view, Writable& w) const {
  w.memory[0] = charging;
  w.x[target] = across(view);
  w.x[charging_current] = p_.capacitance.si() * (across(view) - view.x[voltage]) / p_.charging_time.si();  // (2)
  w.alarm[0] = w.now.utc + ticks(p_.charging_time);
}

void Capacitor::rates(const View& view, double* dxdt) const {
  const double leak = unfed(view) ? view.x[voltage] * leakage_ : 0;               // (3)
  dxdt[voltage] = (into_store(view, across(view)) - leak) / p_.capacitance.si();  // (5)
  dxdt[charging_current] = 0;
  dxdt[target] = 0;
}

void Capacitor::flows(const View& view, double* flow) const {
  const double x = view.x[voltage], v = across(view), i = into_store(view, v);
  const double leaking = unfed(view) ? x : v;
  flow[2] = leaking * leaking * leakage_;
  flow[1] = (v - x) * i;
  flow[0] = x * i - (unfed(view) ? flow[2] : 0);
}

double Capacitor::stored_energy(const View& view) const {
  return p_.capacitance.si() * view.x[voltage] * view.x[voltage] / 2;  // (6)
}

}  // namespace overwinter
