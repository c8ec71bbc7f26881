#include "models/control/controller.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "models/bus.hpp"
#include "models/reading.hpp"
#include "models/ticks.hpp"

namespace overwinter {

namespace {

constexpr double rise_above_rearm = 0.2;  // V, supply seen as coming; keeps "came" and "gone" apart

const std::vector<Field>& phase_fields() {
  static const std::vector<Field> fields = [] {
    using P = ControllerPhase;
    FieldsBuilder<P> t("phase", "One phase of a wake.");
    t.text("name", &P::name).required().meaning("what the instrument does");
    t.scalar("duration", &P::duration, "s").required().at_least(1e-3).at_most(86400).meaning("how long it lasts");
    t.scalar("current", &P::current, "mA").at_least(0).at_most(10).meaning("drawn by the controller itself");
    t.scalar("power", &P::power, "mW").at_least(0).at_most(100).meaning("the same as a power, instead of current");
    const struct {
      const char* key;
      bool P::*member;
    } outs[] = {{"out_1", &P::out_1}, {"out_2", &P::out_2}, {"out_3", &P::out_3}, {"out_4", &P::out_4}};
    for (const auto& out : outs) t.flag(out.key, out.member).meaning("the output is high in this phase");
    return t.done().fields;
  }();
  return fields;
}

/// Of a fault in a phase that is named.
std::optional<Finding> phase_missing(const ControllerParameters& p, const FaultValues& f) {
  std::string names;
  for (const ControllerPhase& one : p.phases) {
    if (one.name == f.phase) return std::nullopt;
    names += (names.empty() ? "" : ", ") + one.name;
  }
  return Finding{"phase", "no phase is called \"" + f.phase + "\"", "one of " + names};
}

}  // namespace

const ModelTable& Controller::describe() {
  static const ModelTable table = [] {
    using P = ControllerParameters;
    using C = Controller;
    TableBuilder<C, P> t("controller",
                         "Microcontroller: boots, runs its phases, asks the policy, sets the clock's next alarm.");
    t.equation("1", "I = phase current, or phase power / V; resistive below the supply range",
               "common practice; models/loads/demand.hpp");
    t.equation("2", "off: I = V / Roff", "class assumption");
    t.equation("3", "in a transient also Ip = (V - x)/Rp, Cp dx/dt = Ip", "definition of capacitance");
    t.scalar("minimum_supply", &P::minimum_supply, "V")
        .required()
        .above(0)
        .at_most(100)
        .meaning("lower end of the supply range");
    t.scalar("maximum_supply", &P::maximum_supply, "V")
        .required()
        .above(0)
        .at_most(100)
        .meaning("upper end of the supply range; above it the part counts as damaged");
    t.scalar("brownout_threshold", &P::brownout_threshold, "V")
        .required()
        .above(0)
        .at_most(100)
        .meaning("supply below which the brown-out detector holds the controller in reset");
    t.scalar("brownout_hysteresis", &P::brownout_hysteresis, "mV")
        .above(0)
        .at_most(10)
        .meaning("how far above the threshold it must rise to boot")
        .source("50 to 150 mV: common practice");
    t.flag("brownout_detector", &P::brownout_detector)
        .meaning("whether the detector is on; without it a low supply leaves the controller hung")
        .source("on: common practice");
    t.scalar("reset_rearm", &P::reset_rearm, "V")
        .above(0)
        .at_most(10)
        .meaning("supply below which a power-on reset is armed")
        .source("0.1 to 1 V: common practice");
    t.scalar("off_resistance", &P::off_resistance, "kohm")
        .above(0)
        .meaning("Roff: what it draws without being powered")
        .source("class assumption");
    t.scalar("reset_current", &P::reset_current, "uA")
        .at_least(0)
        .at_most(1)
        .meaning("drawn while held in reset")
        .source("class assumption");
    t.scalar("reset_time", &P::reset_time, "ms")
        .at_least(1e-4)
        .at_most(10)
        .meaning("how long a reset lasts at least")
        .source("a few to 70 ms, power-up timers: common practice");
    t.scalar("power_on_delay", &P::power_on_delay, "ms")
        .at_least(1e-6)
        .at_most(10)
        .meaning("how long the supply must be valid before the controller leaves reset and boots")
        .source("1 to 65 ms, power-up and start-up timers: common practice");
    t.scalar("pin_capacitance", &P::pin_capacitance, "pF")
        .at_least(1e-12)
        .at_most(1e-6)
        .meaning(
            "Cp, of the die and its supply pin; matters in transients only, and only where the net has no "
            "decoupling capacitor, which is a part of its own")
        .source("tens to hundreds of picofarads: class assumption");
    t.scalar("boot_time", &P::boot_time, "ms")
        .required()
        .at_least(1e-6)
        .at_most(3600)
        .meaning("from the end of the power-on delay to the first phase");
    t.scalar("boot_current", &P::boot_current, "mA").required().at_least(0).at_most(10).meaning("drawn while booting");
    t.scalar("idle_current", &P::idle_current, "mA")
        .required()
        .at_least(0)
        .at_most(10)
        .meaning("drawn after the last phase until the supply goes, and while hung");
    t.rows("phases", &P::phases, phase_fields()).required().meaning("what a wake consists of, in this order");
    t.text("reads_in", &P::reads_in)
        .meaning("the phase at whose start the voltage is read for the policy; the first if left out");
    t.flag("clears_flag", &P::clears_flag)
        .meaning("whether the firmware clears the clock's alarm flag when it sets the next alarm")
        .source("on: what firmware should do");
    t.choice("counts_from", &P::counts_from, {"write", "reading", "wake"})
        .meaning(
            "the instant from which the policy's interval counts: the writing of the alarm at the wake's end, the "
            "reading "
            "of the voltage (see reads_in), or the wake's begin")
        .source("write: class assumption");
    t.asks_policy(&P::policy);

    t.pin("supply", "positive supply");
    t.pin("ground", "return");
    t.fast_state("pin_voltage", unit_of<Voltage>("V"), 50.0, "x: of die and pin, in a transient");
    t.line_input("reading", LineKind::reading, "the voltage that the policy is asked with");
    t.line_output(
        "bus", LineKind::bus, "what was last written to the clock", [](const C& m, const View& v, double* to) {
          Bus{double(v.memory[writes]), double(v.memory[interval]), m.p_.clears_flag ? 1.0 : 0.0, m.elapsed_}.to(to);
        });
    const std::string level = "high in the phases that say so";
    t.line_output("out_1", LineKind::logic, level, [](const C& m, const View& v) { return m.output(v, 0); });
    t.line_output("out_2", LineKind::logic, level, [](const C& m, const View& v) { return m.output(v, 1); });
    t.line_output("out_3", LineKind::logic, level, [](const C& m, const View& v) { return m.output(v, 2); });
    t.line_output("out_4", LineKind::logic, level, [](const C& m, const View& v) { return m.output(v, 3); });

    t.output("mode", unit_of<double>("1"), "what it does",
             [](const C&, const View& v) { return double(v.memory[mode]); },
             {"off", "reset", "booting", "running", "idle", "hung", "reset timer", "off", "power-on delay"});
    t.output("phase", unit_of<double>("1"), "number of the running phase from 1; 0 where none runs",
             [](const C&, const View& v) { return v.memory[mode] == running ? v.memory[phase] + 1.0 : 0.0; });
    t.output("supply", unit_of<Voltage>("V"), "its supply", [](const C& m, const View& v) { return m.supply(v); });
    t.output("current", unit_of<Current>("mA"), "what it draws",
             [](const C& m, const View& v) { return m.current(v, m.supply(v)); });
    t.output("interval", unit_of<Duration>("min"), "sleep last set",
             [](const C&, const View& v) { return double(v.memory[interval]); });
    t.flow("phases", FlowKind::delivered, "in the phases of its wakes");
    t.flow("boot", FlowKind::lost, "while booting");
    t.flow("idle", FlowKind::lost, "after the last phase, or hung");
    t.flow("reset", FlowKind::lost, "held in reset, or without valid supply");
    t.flow("pin", FlowKind::lost, "charging die and pin, in a transient; given up when the supply goes");
    t.margin(
        "supply above brown-out", "controller supply minus its brown-out threshold, while it should run",
        [](const C& m) { return m.runs_above(); },
        [](const C& m, const View& v) {
          const bool runs = v.memory[mode] == booting || v.memory[mode] == running;
          return runs ? m.supply(v) - m.runs_above() : std::numeric_limits<double>::infinity();
        },
        "supply", "brown-out");
    t.condition("mode", "what it does")
        .way(
            "off", "without supply", [](const C&, Writable&) {},
            [](const C&, const View& v, const Tick*) { return v.memory[mode] == off || v.memory[mode] == off_timer; })
        .way(
            "in reset", "powered, and waits for a valid supply", [](const C&, Writable& w) { w.memory[mode] = reset; },
            [](const C&, const View& v, const Tick*) {
              return v.memory[mode] == reset || v.memory[mode] == reset_timer || v.memory[mode] == power_on;
            })
        .way(
            "hung", "neither in reset nor running, as a supply that fell too low leaves it without a detector",
            [](const C& m, Writable& w) {
              if (!m.p_.brownout_detector) w.memory[mode] = hung;
            },
            [](const C&, const View& v, const Tick*) { return v.memory[mode] == hung; })
        .way(
            "finished", "it completed its wake, and its supply has not gone",
            [](const C&, Writable& w) { w.memory[mode] = idle; },
            [](const C&, const View& v, const Tick*) { return v.memory[mode] == idle; });
    t.memories(memory_count);

    t.event(
         "power came", "the supply rose from nothing",
         [](const C& m, const View& v) {
           return v.memory[mode] == off ? m.supply(v) - m.p_.reset_rearm.si() - rise_above_rearm : -1.0;
         },
         [](const C&, const View&, Writable& w) { w.memory[mode] = reset; })
        .role(EventRole::power_came)
        .routine();
    t.event(
         "supply valid", "the supply rose above threshold and hysteresis: the power-on delay begins",
         [](const C& m, const View& v) {
           if (v.memory[mode] != reset) return -1.0;
           return m.supply(v) - m.runs_above() - m.p_.brownout_hysteresis.si();
         },
         [](const C& m, const View&, Writable& w) {
           w.memory[mode] = power_on;
           w.alarm[boot_alarm] = w.now.utc + ticks(m.p_.power_on_delay);
         })
        .routine();
    t.event(
         "supply not valid", "the supply fell below the threshold during the power-on delay",
         [](const C& m, const View& v) { return v.memory[mode] == power_on ? m.runs_above() - m.supply(v) : -1.0; },
         [](const C& m, const View& v, Writable& w) { m.stop(reset, v, w); })
        .routine();
    t.event(
         "brown-out", "the supply fell below the threshold during a wake",
         [](const C& m, const View& v) {
           const bool runs = v.memory[mode] == booting || v.memory[mode] == running;
           return runs ? m.runs_above() - m.supply(v) : -1.0;
         },
         [](const C& m, const View& v, Writable& w) { m.stop(m.p_.brownout_detector ? reset_timer : hung, v, w); })
        .role(EventRole::brown_out);
    t.event(
         "reset while idle", "the supply fell below the threshold after the last phase",
         [](const C& m, const View& v) { return v.memory[mode] == idle ? m.runs_above() - m.supply(v) : -1.0; },
         [](const C& m, const View& v, Writable& w) { m.stop(m.p_.brownout_detector ? reset_timer : hung, v, w); })
        .routine();
    t.event(
         "power gone", "the supply fell so low that a power-on reset is armed",
         [](const C& m, const View& v) {
           return v.memory[mode] == off || v.memory[mode] == off_timer ? -1.0 : m.p_.reset_rearm.si() - m.supply(v);
         },
         [](const C& m, const View& v, Writable& w) { m.stop(off_timer, v, w); })
        .role(EventRole::power_gone)
        .routine();
    t.limit(
         "supply above range", "the supply is above the controller's range, which can damage it", unit_of<Voltage>("V"),
         [](const C& m, const View& v) { return m.supply(v); }, [](const C& m) { return m.p_.maximum_supply.si(); },
         [](const C& m, const View& v) { return m.supply(v) - m.p_.maximum_supply.si(); })
        .reads("above its {} supply limit")
        .remedy("a supply that stays below it whatever the cell's voltage, or a controller that bears it");
    t.alarm("phase begins", "booted, or the phase before is over",
            [](const C& m, const View& v, Writable& w) {
              w.alarm[phase_alarm] = never;
              m.begin_phase(v.memory[mode] == booting ? 0 : v.memory[phase] + 1, v, w);
            })
        .routine()
        .load_step();
    t.alarm("wake completed", "the last phase is over and the next alarm is set",
            [](const C& m, const View& v, Writable& w) { m.complete(v, w); })
        .role(EventRole::wake_completed);
    t.alarm("boot", "the supply has been valid for the power-on delay, and the controller starts",
            [](const C& m, const View&, Writable& w) { m.start_up(w); })
        .role(EventRole::wake_begins)
        .routine()
        .load_step();
    t.alarm("reset time over", "a reset or the wait for a supply is over", [](const C& m, const View& v, Writable& w) {
       m.timer_over(v, w);
     }).routine();

    FieldsBuilder<FaultValues> retries("retries", ""), hung("hung", "");
    retries.text("phase", &FaultValues::phase).required().meaning("the phase that is tried again");
    retries.scalar("times", &FaultValues::times, "1")
        .required()
        .above(1)
        .at_most(10000)
        .meaning("it lasts so many times as long");
    hung.text("phase", &FaultValues::phase)
        .meaning("the phase in which it hangs; without it, the one it is in, or the first of the next wake");
    t.fault(
        "retries", "a phase lasts longer, as by a radio that tries again",
        [](P& p, const FaultValues& f) {
          for (ControllerPhase& one : p.phases) {
            if (one.name == f.phase) one.duration = f.times * one.duration;
          }
        },
        retries.done().fields, phase_missing);
    t.fault(
        "hung", "its firmware hangs: it stays in a phase and draws, sets no alarm and clears no flag",
        [](P& p, const FaultValues& f) { p.hangs_in.push_back(f.phase); }, hung.done().fields,
        [](const P& p, const FaultValues& f) { return f.phase.empty() ? std::nullopt : phase_missing(p, f); });
    return t.done();
  }();
  return table;
}

Controller::Controller(const ControllerParameters& p) : p_(p) {
  const auto ampere = [](Current i) { return Demand{Demand::current, i.si()}; };
  demand_ = {{Demand::conductance, 1 / p.off_resistance.si()},
             ampere(p.reset_current),
             ampere(p.boot_current),
             {},
             ampere(p.idle_current),
             ampere(p.idle_current),
             ampere(p.reset_current),
             {Demand::conductance, 1 / p.off_resistance.si()},
             ampere(p.reset_current)};
  for (std::size_t i = 0; i < p.phases.size(); ++i) {
    const ControllerPhase& one = p.phases[i];
    demand_.push_back(one.power ? Demand{Demand::power, one.power->si()} : ampere(*one.current));
    if (one.name == p.reads_in) reading_phase_ = static_cast<std::int32_t>(i);
  }
  elapsed_ = counted_before_write().si();
}

std::shared_ptr<const Model> Controller::build(const ControllerParameters& p, std::vector<Finding>& findings) {
  if (p.phases.empty()) {
    findings.push_back({"phases", "the controller has no phases, so that a wake does nothing",
                        "phases: [{name: measure, duration: 2 s, current: 5 mA}]"});
  }
  bool reads = p.reads_in.empty();
  std::string names;
  for (std::size_t i = 0; i < p.phases.size(); ++i) {
    const ControllerPhase& one = p.phases[i];
    names += (i ? ", " : "") + one.name;
    if (!one.current && !one.power) {
      findings.push_back(
          {"phases", "phase \"" + one.name + "\" draws neither a current nor a power", "add current: NUMBER mA", i});
    }
    if (one.current && one.power) {
      findings.push_back(
          {"phases", "phase \"" + one.name + "\" has a current and a power", "remove one of them", i, "power"});
    }
    reads = reads || one.name == p.reads_in;
    const auto first = std::find_if(p.phases.begin(), p.phases.end(),
                                    [&](const ControllerPhase& other) { return other.name == one.name; }) -
                       p.phases.begin();
    if (static_cast<std::size_t>(first) < i) {
      findings.push_back({"phases",
                          "phases " + std::to_string(first + 1) + " and " + std::to_string(i + 1) +
                              " are both called \"" + one.name + "\"",
                          "rename one", i, "name"});
    }
  }
  if (!reads && !p.phases.empty())
    findings.push_back({"reads_in", "no phase is called \"" + p.reads_in + "\"", "one of " + names});
  if (!(p.minimum_supply < p.maximum_supply)) {
    findings.push_back({"maximum_supply", "the supply range is empty: maximum_supply is not above minimum_supply",
                        "raise maximum_supply"});
  }
  const Voltage reset_free = p.brownout_detector ? p.brownout_threshold : p.minimum_supply;
  if (reset_free + p.brownout_hysteresis > p.maximum_supply) {
    findings.push_back({"brownout_threshold",
                        "the controller could never start: threshold plus hysteresis is above maximum_supply",
                        "lower the threshold"});
  }
  if (p.brownout_detector && p.brownout_threshold < p.minimum_supply) {
    findings.push_back({"brownout_threshold", "the detector lets the controller run below its supply range",
                        "raise the threshold to minimum_supply or above"});
  }
  if (!(p.reset_rearm + Voltage{rise_above_rearm} < reset_free)) {
    findings.push_back({"reset_rearm", "a power-on reset would be armed at a supply at which the controller runs",
                        "lower reset_rearm"});
  }
  if (!findings.empty()) return nullptr;
  return std::make_shared<Controller>(p);
}

void Controller::start(const Ambient&, Writable& w) const {
  std::fill(w.memory, w.memory + memory_count, 0);
  for (const Alarm alarm : {phase_alarm, end_alarm, timer_alarm, boot_alarm}) w.alarm[alarm] = never;
  w.memory[mode] = off;
  w.x[pin_voltage] = 0;
}

bool Controller::can_be_in(const std::int32_t* memory) const {
  const auto below = [](std::int32_t index, std::size_t size) {
    return index >= 0 && static_cast<std::size_t>(index) < size;
  };
  const std::size_t rows = p_.policy ? p_.policy->rows().size() : 0;
  return below(memory[mode], mode_count) && (memory[mode] != running || below(memory[phase], p_.phases.size())) &&
         below(memory[policy_row], rows + 1);
}

Duration Controller::counted_before_write() const {
  if (p_.counts_from == CountsFrom::write) return Duration{};
  const bool whole = p_.counts_from == CountsFrom::wake;
  Duration sum = whole ? p_.power_on_delay + p_.boot_time : Duration{};
  for (std::size_t i = whole ? 0 : static_cast<std::size_t>(reading_phase_); i < p_.phases.size(); ++i) {
    sum += p_.phases[i].duration;
  }
  return sum;
}

bool Controller::hangs(std::int32_t index) const {
  const std::string& name = p_.phases[static_cast<std::size_t>(index)].name;
  return std::any_of(p_.hangs_in.begin(), p_.hangs_in.end(),
                     [&](const std::string& in) { return in.empty() || in == name; });
}

void Controller::take_over(const Model& former, const View& view, Writable& w, double*) const {
  if (view.memory[mode] != running) return;
  const std::int32_t now = view.memory[phase];
  if (hangs(now)) {
    w.alarm[phase_alarm] = w.alarm[end_alarm] = never;
  } else if (static_cast<const Controller&>(former).hangs(now)) {
    stop(reset_timer, view, w);
  }
}

std::vector<std::string> Controller::phases_driving(const std::string& output) const {
  std::vector<std::string> names;
  for (int which = 0; which < outputs; ++which) {
    if (output != "out_" + std::to_string(which + 1)) continue;
    for (const ControllerPhase& one : p_.phases) {
      if (one.high(which)) names.push_back(one.name);
    }
  }
  return names;
}

double Controller::runs_above() const {
  return (p_.brownout_detector ? p_.brownout_threshold : p_.minimum_supply).si();
}

double Controller::output(const View& view, int which) const {
  const bool runs = view.memory[mode] == running;
  return runs && p_.phases[static_cast<std::size_t>(view.memory[phase])].high(which) ? 1.0 : 0.0;
}

void Controller::start_up(Writable& w) const {
  w.memory[mode] = booting;
  w.alarm[boot_alarm] = never;
  w.alarm[phase_alarm] = w.now.utc + ticks(p_.boot_time);
}

/// Into reset, off, idle or hung.
void Controller::stop(Mode to, const View& view, Writable& w) const {
  w.memory[mode] = to;
  w.alarm[phase_alarm] = never;
  w.alarm[end_alarm] = never;
  w.alarm[timer_alarm] = never;
  w.alarm[boot_alarm] = never;
  if (to == reset_timer) w.alarm[timer_alarm] = w.now.utc + ticks(p_.reset_time);
  if (to != off_timer) return;
  const std::int32_t dip = std::min(view.memory[dips], longest_dip);
  w.alarm[timer_alarm] = w.now.utc + (ticks(p_.reset_time) << dip);
  w.memory[dips] = std::min(dip + 1, longest_dip);
}

void Controller::timer_over(const View& view, Writable& w) const {
  w.alarm[timer_alarm] = never;
  w.memory[mode] = view.memory[mode] == off_timer ? off : reset;
}

void Controller::begin_phase(std::int32_t index, const View& view, Writable& w) const {
  w.memory[mode] = running;
  w.memory[phase] = index;
  w.memory[dips] = 0;
  const bool last = static_cast<std::size_t>(index) + 1 == p_.phases.size();
  const Alarm over = last ? end_alarm : phase_alarm;
  w.alarm[over] = hangs(index) ? never : w.now.utc + ticks(p_.phases[static_cast<std::size_t>(index)].duration);
  if (index != reading_phase_ || !p_.policy) return;
  const Reading reading = Reading::from(view.line);
  w.memory[wakes] = view.memory[wakes] + 1;
  const double volts = reading.read(
      normal_number(static_cast<std::uint64_t>(reading.seed), static_cast<std::uint64_t>(w.memory[wakes])));
  std::int32_t row = view.memory[policy_row] - 1;
  w.memory[interval] = p_.policy->interval(volts, row);
  w.memory[policy_row] = row + 1;
}

void Controller::complete(const View& view, Writable& w) const {
  stop(idle, view, w);
  w.memory[writes] = view.memory[writes] + 1;
}

void Controller::enter_transient(const View& view, Writable& w, double*) const { w.x[pin_voltage] = supply(view); }

void Controller::rates(const View& view, double* dxdt) const {
  dxdt[pin_voltage] = view.transient ? into_pin(view, supply(view)) / p_.pin_capacitance.si() : 0;  // (3)
}

void Controller::flows(const View& view, double* flow) const {
  std::fill(flow, flow + 5, 0.0);
  if (view.transient) flow[4] = supply(view) * into_pin(view, supply(view));
  const double power = supply(view) * current(view, supply(view));
  switch (view.memory[mode]) {
    case running:
      flow[0] = power;
      break;
    case booting:
      flow[1] = power;
      break;
    case idle:
    case hung:
      flow[2] = power;
      break;
    default:
      flow[3] = power;
      break;
  }
}

}  // namespace overwinter
