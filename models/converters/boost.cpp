#include "models/converters/boost.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "models/ticks.hpp"

namespace overwinter {

namespace {

constexpr double not_now = -1.0;  // a guard that cannot be due in the present mode
constexpr double two_pi = 6.283185307179586;
constexpr double least_store = 1e-6;  // F, without an output capacitor no converter is stable
// Ti and tc in 1/(2 pi fc): a decade below and a decade above the crossover, common practice
constexpr double integral_share = 10.0, current_share = 0.1;

/// The efficiency at which the input current equals the limit: I = eta(V, I) V Ilim / Uset, by bisection.
double efficiency_at_limit(const BoostParameters& p, double in) {
  const double lossless = in * p.current_limit.si() / p.output_voltage.si();
  double low = 0, high = lossless;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (p.efficiency(in, middle) * lossless > middle ? low : high) = middle;
  }
  return p.efficiency(in, low);
}

Curve efficiency_at_limit(const BoostParameters& p) {
  constexpr int intervals = 32;
  const double lowest = p.lockout.si() / 2, highest = p.output_voltage.si();
  std::set<double> inputs;
  for (int i = 0; i <= intervals; ++i) inputs.insert(lowest + (highest - lowest) * i / intervals);
  for (const double in : p.efficiency.x()) {
    if (in > lowest && in < highest) inputs.insert(in);
  }
  std::vector<double> x(inputs.begin(), inputs.end()), y;
  for (const double in : x) y.push_back(efficiency_at_limit(p, in));
  return Curve(std::move(x), std::move(y), Interpolation::monotone, Outside::hold);
}

}  // namespace

const ModelTable& Boost::describe() {
  static const ModelTable table = [] {
    using P = BoostParameters;
    using C = Boost;
    const std::string practice = "common practice for step-up converters";
    const std::string textbook = "Erickson & Maksimovic, Fundamentals of Power Electronics, ";
    TableBuilder<C, P> t("boost", "A step-up converter that holds a rail above the voltage of its input.");
    t.equation("1", "Uset = softmin(Uset0, V / (1 - Dmax))", textbook + "ch. 2");
    t.equation("2", "Ireg = (Uset - U) / Rreg, not below 0", "load regulation, datasheet");
    t.equation("3", "Imax = e V Ilim g / max(U, e V); g rises from 0 at half the lockout to 1 at the lockout",
               "power balance at the average input current limit");
    t.equation("4", "I = softmin(Ireg, Imax)", "the tighter limit, corner rounded by 2 %");
    t.equation("5", "Iin = U I / (eta(V, I) V)", textbook + "ch. 3");
    t.equation("6", "Irect = (V - U - Ud) / Rd, not below 0", "rectifier as drop and resistance, common practice");
    t.equation("7", "Istart = softmin(C (Uset0^2 - U0^2) / (2 eta V tss), Ilim) g",
               "energy of the output capacitor, spread evenly: class assumption");
    t.equation("8", "Iq = Iq0 V / sqrt(V^2 + (0.3 V)^2)", "datasheet; vanishes with the input");
    t.equation("9", "Idiv = U / Rdiv", "Ohm's law");
    t.equation("10", "Istress = Ilim g", "worst case of a switch-on: class assumption");
    t.equation("11", "in a transient: Ic = (U - u)/Resr, C du/dt = Ic", "definition of capacitance");
    t.equation("12", "Ireg = gm (r Uset - U) + q, gm = 2 pi fc C, tc dI/dt = softmin(Ireg, Imax) - I",
               textbook + "ch. 9");
    t.equation("13", "Ti dq/dt = softmin(Ireg, Imax) (1 - gm Rreg) - q, Ti = 10/(2 pi fc)",
               "integral part: Astrom & Hagglund 1995, PID Controllers, ch. 3, from memory");
    t.equation("14", "dr/dt = 1/tss up to 1", "soft start of the set-point, datasheet");
    t.equation("15", "Iin = I max(U, e V)/(eta V), the limit less Irect", "power balance; one inductor");
    t.equation("16", "in (12) with output_disconnect softmin(Ireg + Irect, Imax), no other Irect", "class assumption");

    t.scalar("output_voltage", &P::output_voltage, "V")
        .required()
        .above(0)
        .at_most(60)
        .meaning("set-point of the rail");
    t.scalar("regulation_resistance", &P::regulation_resistance, "ohm")
        .above(0)
        .at_most(10)
        .meaning("output resistance of the voltage loop")
        .source("class assumption: 0.4 % of 5 V at 1 A");
    t.map("efficiency", &P::efficiency, {"input", unit_of<Voltage>("V"), Limit{0, true}, std::nullopt},
          {"load", unit_of<Current>("mA"), Limit{0, false}, std::nullopt},
          {"share", unit_of<double>("%"), std::nullopt, std::nullopt})
        .required()
        .values_above(0)
        .values_at_most(1)
        .meaning("output power over input power, own consumption left out, by input voltage and output current");
    t.scalar("quiescent_enabled", &P::quiescent_enabled, "uA")
        .required()
        .at_least(0)
        .at_most(0.1)
        .meaning("own consumption from the input while enabled");
    t.scalar("quiescent_disabled", &P::quiescent_disabled, "uA")
        .required()
        .at_least(0)
        .at_most(0.1)
        .meaning("own consumption from the input while disabled or locked out");
    t.scalar("lockout", &P::lockout, "V")
        .required()
        .above(0)
        .at_most(60)
        .meaning("input under-voltage lockout, falling");
    t.scalar("lockout_hysteresis", &P::lockout_hysteresis, "V")
        .above(0)
        .at_most(5)
        .meaning("the input counts as back this far above lockout")
        .source("50 to 300 mV: " + practice);
    t.scalar("soft_start", &P::soft_start, "ms")
        .above(0)
        .at_most(10)
        .meaning("from the start until the rail stands")
        .source("1 to 10 ms: " + practice);
    t.scalar("retry", &P::retry, "ms")
        .above(0)
        .at_most(3600)
        .meaning("from the input's return after a lockout to the next start")
        .source("class assumption; 1 ms to 1 s: " + practice);
    t.scalar("current_limit", &P::current_limit, "A")
        .required()
        .above(0)
        .at_most(50)
        .meaning("largest average input (inductor) current");
    t.scalar("maximum_duty", &P::maximum_duty, "%")
        .at_least(0)
        .at_most(0.99)
        .meaning("largest duty of the switch: the rail stays below input / (1 - maximum_duty)")
        .source("85 to 90 %: " + practice);
    t.scalar("rectifier_drop", &P::rectifier_drop, "V")
        .at_least(0)
        .at_most(2)
        .meaning("rectifier between input and output: where it begins to conduct")
        .source("0.2 to 0.4 V below the cell: " + practice);
    t.scalar("rectifier_resistance", &P::rectifier_resistance, "ohm")
        .above(0)
        .at_most(100)
        .meaning("inductor and rectifier in series while they only pass the input on")
        .source("class assumption");
    t.flag("output_disconnect", &P::output_disconnect)
        .meaning("the output is cut off from the input while the part does not run: no pass-through");
    t.scalar("output_capacitance", &P::output_capacitance, "uF")
        .at_least(0)
        .at_most(1)
        .meaning("own output capacitor, charged at every start")
        .source("10 to 47 uF: " + practice);
    t.scalar("output_capacitor_resistance", &P::output_capacitor_resistance, "mohm")
        .at_least(1e-4)
        .at_most(10)
        .meaning("series resistance of that capacitor; matters in transients only")
        .source("2 to 10 mohm, ceramic: " + practice);
    t.scalar("crossover_frequency", &P::crossover_frequency, "kHz")
        .at_least(10)
        .at_most(1e6)
        .meaning("of the voltage loop with its own output capacitor; matters in transients only")
        .source("5 to 30 kHz, well below the right-half-plane zero: " + practice);
    t.scalar("divider_resistance", &P::divider_resistance, "Mohm")
        .at_least(1000)
        .meaning("feedback divider from the output to ground; without it nothing is drawn from the output");

    t.pin("in", "from the cell");
    t.pin("out", "the rail");
    t.pin("ground", "return");
    t.line_input("enable", LineKind::logic, "switches the part; always on without it");
    t.fast_state("store_voltage", unit_of<Voltage>("V"), 50.0, "of the output capacitor, in a transient");
    t.fast_state("rail_current", unit_of<Current>("mA"), 50.0, "of the converter, in a transient");
    t.fast_state("loop_integral", unit_of<Current>("mA"), 50.0, "integral part of the voltage loop, in a transient");
    t.fast_state("soft_start", unit_of<double>("%"), 10.0, "share of the set-point that the soft start has reached");

    t.output("regime", unit_of<double>("1"), "what the part does",
             [](const C&, const View& v) { return static_cast<double>(v.memory[mode]); },
             {"off", "locked out", "waiting", "starting", "on", "stressed"});
    t.output("efficiency", unit_of<double>("%"), "power out of out over power into in; 0 where either is not positive",
             [](const C& m, const View& v) {
               double f[3];
               m.evaluate(v, f);
               const double into = m.input(v) * f[0], out = -m.output(v) * f[1];
               return into > 0 && out > 0 ? out / into : 0.0;
             });
    t.output("input_current", unit_of<Current>("mA"), "into in", [](const C& m, const View& v) {
      double f[3];
      m.evaluate(v, f);
      return f[0];
    });
    t.output("output_current", unit_of<Current>("mA"), "out of out", [](const C& m, const View& v) {
      double f[3];
      m.evaluate(v, f);
      return -f[1];
    });

    t.flow("conversion", FlowKind::lost, "input power less output power of the converter");
    t.flow("rectifier", FlowKind::lost, "passing the input on");
    t.flow("quiescent", FlowKind::lost, "own consumption and feedback divider");
    t.flow("start_up", FlowKind::lost, "charging the output capacitor, given up when the part stops");

    t.memories(memory_count);
    // Alarms first, then the input, then the line: of resets at one instant the later one stands.
    t.alarm("start", "the retry time is over", [](const C& m, const View& v, Writable& w) { m.begin_start(v, w); })
        .routine()
        .load_step();
    t.alarm("feeds", "the soft start is over: the rail stands",
            [](const C&, const View&, Writable& w) {
              w.memory[mode] = on;
              w.x[ramp] = 1;
              w.alarm[soft_start_alarm] = never;
            })
        .role(EventRole::restored)
        .routine();
    t.event(
         "lockout", "the input fell below its lockout",
         [](const C& m, const View& v) {
           return v.memory[mode] == starting || v.memory[mode] == on ? m.p_.lockout.si() - m.input(v) : not_now;
         },
         [](const C& m, const View&, Writable& w) { m.fall_to(locked_out, w); })
        .role(EventRole::cut);
    t.event(
         "input back", "the input rose above its lockout and hysteresis",
         [](const C& m, const View& v) {
           return v.memory[mode] == locked_out ? m.input(v) - m.rising_threshold() : not_now;
         },
         [](const C& m, const View& v, Writable& w) {
           w.memory[mode] = waiting;
           w.alarm[retry_alarm] = w.now.utc + (ticks(m.p_.retry) << std::min(v.memory[waits], longest_wait));
         })
        .routine();
    t.event(
         "enabled", "the line switches it on",
         [](const C&, const View& v) {
           if (v.memory[mode] != off) return not_now;
           return std::isnan(v.line[0]) ? 1.0 : v.line[0] - 0.5;
         },
         [](const C& m, const View& v, Writable& w) {
           if (m.input(v) < m.rising_threshold()) {
             w.memory[mode] = locked_out;
           } else {
             m.begin_start(v, w);
           }
         })
        .routine();
    t.event(
         "disabled", "the line switches it off",
         [](const C&, const View& v) {
           return v.memory[mode] == off || v.memory[mode] == stressed || std::isnan(v.line[0]) ? not_now
                                                                                               : 0.5 - v.line[0];
         },
         [](const C& m, const View&, Writable& w) { m.fall_to(off, w); })
        .routine();
    t.event("current limit", "the input current limit holds the rail below 97 % of its set-point",
            [](const C& m, const View& v) {
              if (v.memory[mode] != on) return not_now;
              const Loop<double> loop = m.loop(v, m.currents(v).rectifier);
              return std::min(0.97 * m.p_.output_voltage.si() - m.output(v), loop.demand - loop.room);
            })
        .role(EventRole::limit);

    t.stress("switch-on", "the input current limit's current is drawn, nothing is driven",
             [](const C&, const View& v, std::int32_t* memory) {
               if (v.memory[mode] != starting && v.memory[mode] != on) return false;
               memory[mode] = stressed;
               return true;
             });
    t.margin(
        "input above lockout", "distance of the input to its lockout", [](const C& m) { return m.p_.lockout.si(); },
        [](const C& m, const View& v) {
          const int now = v.memory[mode];
          return now == waiting || now == starting || now == on || now == stressed
                     ? m.input(v) - m.p_.lockout.si()
                     : std::numeric_limits<double>::infinity();
        },
        "in", "lockout");
    return t.done();
  }();
  return table;
}

Boost::Boost(const BoostParameters& p)
    : p_(p),
      efficiency_at_limit_(efficiency_at_limit(p)),
      stored_(std::max(p.output_capacitance.si(), least_store)),
      gain_(two_pi * p.crossover_frequency.si() * stored_),
      integral_time_(integral_share / (two_pi * p.crossover_frequency.si())),
      current_time_(current_share / (two_pi * p.crossover_frequency.si())) {}

std::shared_ptr<const Model> Boost::build(const BoostParameters& p, std::vector<Finding>& findings) {
  const auto check = [&](bool fine, const char* field, std::string message, std::string suggestion) {
    if (!fine) findings.push_back({field, std::move(message), std::move(suggestion)});
  };
  check(!p.efficiency.empty(), "efficiency", "the converter's losses are not known",
        "copy the datasheet's efficiency curves");
  check(p.lockout + p.lockout_hysteresis < p.output_voltage, "lockout",
        "the part would start only with an input above its own set-point",
        "choose lockout + lockout_hysteresis below output_voltage");
  check(p.quiescent_disabled <= p.quiescent_enabled, "quiescent_disabled", "it is larger than quiescent_enabled",
        "a disabled part takes less than an enabled one");
  if (!findings.empty()) return nullptr;
  return std::make_shared<Boost>(p);
}

void Boost::start(const Ambient&, Writable& w) const {
  w.memory[waits] = 0;
  w.x[store_voltage] = w.x[rail_current] = w.x[integral] = 0;
  w.x[ramp] = 1;
  fall_to(on, w);
}

void Boost::enter_transient(const View& view, Writable& w, double*) const {
  w.x[store_voltage] = output(view);
  const Currents<double> c = currents(view);
  w.x[rail_current] = c.converter_out + (p_.output_disconnect ? c.rectifier : 0.0);  // (16)
  w.x[integral] = c.converter_out * (1 - gain_ * p_.regulation_resistance.si());     // at rest in (13)
  if (view.memory[mode] == starting) soft_start(view, w);
}

void Boost::rates(const View& view, double* dxdt) const {
  dxdt[store_voltage] = dxdt[rail_current] = dxdt[integral] = dxdt[ramp] = 0;
  if (!view.transient) return;
  const Currents<double> c = currents(view);
  dxdt[store_voltage] = c.store / stored_;  // (11)
  const Loop<double> wish = loop(view, c.rectifier);
  const double regulated = soft_min(wish.demand, wish.room);
  const double passed = p_.output_disconnect && view.memory[mode] == on ? passed_on(view.z[0] - view.z[1]) : 0;
  const double target = passed > 0 ? soft_min(wish.demand + passed, wish.room) : regulated;  // (16)
  dxdt[rail_current] = (target - view.x[rail_current]) / current_time_;                      // (12)
  dxdt[integral] =
      (regulated * (1 - gain_ * p_.regulation_resistance.si()) - view.x[integral]) / integral_time_;  // (13)
  if (view.memory[mode] == starting && view.x[ramp] < 1) dxdt[ramp] = 1 / p_.soft_start.si();         // (14)
}

void Boost::fall_to(Mode next, Writable& w) const {
  w.memory[mode] = next;
  w.alarm[retry_alarm] = never;
  w.alarm[soft_start_alarm] = never;
}

void Boost::begin_start(const View& view, Writable& w) const {
  w.alarm[retry_alarm] = never;
  if (view.memory[mode] == waiting && input(view) < p_.lockout.si()) {  // it did not stand for the retry time
    w.memory[mode] = locked_out;
    w.memory[waits] = std::min(view.memory[waits] + 1, longest_wait);
    return;
  }
  w.memory[waits] = 0;
  soft_start(view, w);
}

void Boost::soft_start(const View& view, Writable& w) const {
  w.memory[mode] = starting;
  w.x[ramp] = std::clamp(output(view) / p_.output_voltage.si(), 0.0, 1.0);
  w.x[integral] = 0;
  w.alarm[soft_start_alarm] = w.now.utc + ticks(p_.soft_start);
}

void Boost::flows(const View& view, double* flow) const {
  const Currents<double> c = currents(view);
  const double in = input(view), out = output(view);
  flow[0] = in * c.converter_in - out * c.converter_out;
  flow[1] = (view.z[0] - view.z[1]) * c.rectifier;
  flow[2] = in * c.quiescent + out * c.divider;
  flow[3] = in * c.start_up + out * c.store;
}

}  // namespace overwinter
