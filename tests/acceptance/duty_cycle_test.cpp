// Duty cycle, coin cell life and resolution: arithmetic that a designer does on paper, against what clock, controller
// and monitor do together.
#include <doctest/doctest.h>

#include <algorithm>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <set>

#include "models/reading.hpp"
#include "tests/models/support/control_examples.hpp"
#include "tests/models/support/in_time.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

constexpr double battery = 3.6;            // V
constexpr double year = 365 * 86400.0;     // s; the tabulated lives are in years of 8760 h
constexpr double coin_cell = 0.22 * 3600;  // A s: 220 mAh, a lithium coin cell of 20 mm, class data of IEC 60086-2
constexpr double pull_up = 100e3;          // ohm, common practice for an alarm line

/// A clock on the battery, and a controller that has the battery while the alarm line is low.
struct Instrument {
  InTime clock, controller;
  double charge = 0;  // A s out of the battery

  Instrument(const ClockParameters& c, const ControllerParameters& p) : clock(started(c)), controller(started(p)) {}

  template <class P>
  static InTime started(const P& p) {
    Alone part = build<std::conditional_t<std::is_same_v<P, ClockParameters>, Clock, Controller>>(p);
    part.start(air(25));
    return InTime(part);
  }

  /// Of the alarm line behind its pull-up: the interrupt output is linear in it.
  double line_voltage() {
    clock.z = {battery, 0, 1};
    return battery / (1 + pull_up * clock.currents()[2]);
  }
  void wire() {
    clock.line = controller.line_output("bus");
    const double line = line_voltage();
    clock.z[2] = line;
    controller.z = {line < battery / 2 ? battery : 0, 0};
  }
  void run_to(Tick until) {
    for (;;) {
      wire();
      for (bool busy = true; busy;) {
        const bool clock_busy = !clock.one_round().empty();
        busy = !controller.one_round().empty() || clock_busy;
        wire();
      }
      const Tick now = clock.now.utc;
      if (now == until) return;
      const Tick next = std::min({until, clock.next_alarm(), controller.next_alarm()});
      const double current = clock.currents()[0] + (controller.z[0] > 0 ? controller.currents()[0] : 0);
      charge += current * static_cast<double>(next - now) / ticks_per_second;
      clock.now.utc = controller.now.utc = next;
    }
  }
  std::vector<Tick> times_of(const std::string& event) const {
    std::vector<Tick> times;
    for (const InTime* part : {&clock, &controller}) {
      for (const auto& [time, name] : part->happened) {
        if (name == event) times.push_back(time);
      }
    }
    return times;
  }
};

/// One phase of a current that holds for `awake` s, then `interval` s of sleep.
ControllerParameters one_phase(double current, double awake, double interval) {
  ControllerParameters p = measuring_controller();
  p.power_on_delay = p.boot_time = Duration{1e-6};
  p.phases.resize(1);
  p.phases[0].duration = Duration{awake};
  p.phases[0].current = Current{current};
  PolicyParameters always;
  always.every = Duration{interval};
  std::vector<Finding> findings;
  p.policy = Policy::build(always, findings);
  return p;
}

ClockParameters exact_clock(double current) {
  ClockParameters p;
  p.drift_curvature = PerKelvinSquared{0.0};
  p.supply_current = Current{current};
  return p;
}

/// Mean battery current over 100 cycles, A.
double average_current(double awake_current, double awake, double cycle, double sleep_current) {
  Instrument i(exact_clock(sleep_current), one_phase(awake_current - sleep_current, awake, cycle - awake));
  const double span = 100 * cycle;
  i.run_to(static_cast<Tick>(std::llround(span * ticks_per_second)));
  CHECK(i.times_of("wake completed").size() == 100);
  return i.charge / span;
}

/// What is left in a coin cell that has fed the clock for some years, by the model's own rates. A s
double left_after(double years, double microamperes, double self_discharge_per_year) {
  ClockParameters p;
  p.backup_capacity = Charge{coin_cell};
  p.backup_current = Current{microamperes * 1e-6};
  p.backup_self_discharge = Rate{self_discharge_per_year / year};
  Alone clock = build<Clock>(p);
  clock.start(air(25));
  clock.z = {0, 0, 0};
  namespace odeint = boost::numeric::odeint;
  using State = std::vector<double>;
  const auto stepper = odeint::make_controlled(1e-9, 1e-12, odeint::runge_kutta_dopri5<State>());
  State x = clock.x;
  odeint::integrate_adaptive(
      stepper,
      [&](const State& state, State& rate, double) {
        clock.x = state;
        rate = clock.rates();
      },
      x, 0.0, years * year, 86400.0);
  return x[0];
}

/// rms of what rounding does to a ramp that does not beat with the steps.
double rms_over_ramp(double step, double from, double to) {
  constexpr int points = 1'000'003;
  double sum = 0;
  for (int i = 0; i < points; ++i) {
    const double volts = from + (to - from) * i / points;
    const double error = Reading{volts, 0, step, 0}.read(0) - volts;
    sum += error * error;
  }
  return std::sqrt(sum / points);
}

/// The values that a monitor shows while its current rises slowly, A.
std::set<double> shown_currents(double shunt_step, double from, double to) {
  PowerMonitorParameters p;
  p.shunt_step = Voltage{shunt_step};
  Alone monitor = build<PowerMonitor>(p);
  std::set<double> seen;
  for (int i = 0; i <= 4000; ++i) {
    const double amperes = from + (to - from) * i / 4000;
    monitor.z = {3.7 + 0.1 * amperes, 3.7, 3.3, 0};
    seen.insert(monitor.output("current"));
  }
  return seen;
}

}  // namespace

// Arithmetic: (30 mA * 2 s + 5 uA * 598 s) / 600 s. Tolerance: half the last digit.
TEST_CASE("average current of 30 mA for 2 s of every 600 s and 5 uA of sleep, and the days of 2000 mAh") {
  const double average = average_current(30e-3, 2, 600, 5e-6);
  CHECK(std::abs(average - 0.104983e-3) < 5e-10);
  CHECK(std::abs(2.0 / average / 24 - 793.8) < 0.05);
}

// Arithmetic: (80 mA * 20 s + 0.1 mA * 1780 s) / 1800 s. Tolerance: half the last digit.
TEST_CASE("average current of 80 mA for 20 s of every 1800 s and 0.1 mA of sleep") {
  CHECK(std::abs(average_current(80e-3, 20, 1800, 0.1e-3) - 0.987778e-3) < 5e-10);
}

// Arithmetic on 220 mAh (IEC 60086-2 class data): capacity over current. Tolerance: half the last digit.
TEST_CASE("years of a clock on a coin cell without self-discharge") {
  const double table[][3] = {
      {0.84, 29.90, 0.005}, {1, 25.11, 0.005}, {2, 12.56, 0.005}, {3, 8.371, 0.0005}, {5, 5.023, 0.0005}};
  for (const auto& [microamperes, years, tolerance] : table) {
    CAPTURE(microamperes);
    CHECK(left_after(years - tolerance, microamperes, 0) > 0);
    CHECK(left_after(years + tolerance, microamperes, 0) < 0);
  }
}

// The same with 1 % a year of what is left (IEC 60086-2 class data): t = ln(1 + 0.01 T0) / 0.01. Tolerance: half the
// last digit.
TEST_CASE("years of a clock on a coin cell that loses 1 % a year of what is left") {
  const double table[][3] = {
      {0.84, 26.16, 0.005}, {1, 22.41, 0.005}, {2, 11.83, 0.005}, {3, 8.039, 0.0005}, {5, 4.901, 0.0005}};
  for (const auto& [microamperes, years, tolerance] : table) {
    CAPTURE(microamperes);
    CHECK(left_after(years - tolerance, microamperes, 0.01) > 0);
    CHECK(left_after(years + tolerance, microamperes, 0.01) < 0);
    const double alone = coin_cell / (microamperes * 1e-6) / year;
    CHECK(std::abs(left_after(std::log1p(0.01 * alone) / 0.01, microamperes, 0.01)) < 1e-6 * coin_cell);
  }
}

// Bennett 1948, Bell Syst. Tech. J. 27, 446-472: step / sqrt(12), and 6.02 dB per bit + 1.76 dB under a full-scale
// sine. Tolerance: half the last digit of the step and of the ratio, 0.1 % of the rms.
TEST_CASE("twelve bits over 3.3 V: step, rms error and ratio of a full-scale sine to it") {
  const double step = 3.3 / 4096;
  double smallest = 1, before = 0;
  for (double volts = 0; volts < 0.02; volts += 1e-6) {
    const double read = Reading{volts, 0, step, 0}.read(0);
    if (read != before) smallest = std::min(smallest, read - before);
    before = read;
  }
  CHECK(std::abs(smallest - 0.805664e-3) < 5e-10);
  const double rms = rms_over_ramp(step, 0, 3.3);
  CHECK(relative_error(rms, 0.232575e-3) < 1e-3);
  CHECK(std::abs(20 * std::log10(3.3 / std::sqrt(8.0) / rms) - 74.0) < 0.05);
}

// Arithmetic: 40.96 mV over 2048 steps is 20 uV, over 0.1 ohm 0.2 mA; 10 uV is 0.1 mA. Tolerance: rounding.
TEST_CASE("resolution of a shunt monitor over 0.1 ohm") {
  const struct { double volts, amperes; } steps[] = {{20e-6, 0.2e-3}, {10e-6, 0.1e-3}};
  for (const auto& [volts, amperes] : steps) {
    CAPTURE(volts);
    const std::set<double> seen = shown_currents(volts, -2e-3, 5e-3);
    CHECK(seen.size() == static_cast<std::size_t>(std::lround(7e-3 / amperes)) + 1);
    for (auto low = seen.begin(), high = std::next(low); high != seen.end(); ++low, ++high) {
      CHECK(relative_error(*high - *low, amperes) < 1e-9);
    }
  }
}

// Common practice: an alarm that counts from its setting puts the awake time on top of the interval, so that a logger
// drifts through the hour unless its firmware allows for it. Exact.
TEST_CASE("an alarm set n seconds after the write, with a wake of hold time h, repeats every h + n") {
  const ControllerParameters p = measuring_controller();
  constexpr Tick hold =
      Tick{2'000'000} + 65'000'000 + 2'000'000'000 + 1'234'567'891 + 1'500'000'000;  // delay, boot, phases
  const Tick sleep = 600 * ticks_per_second;
  ClockParameters c = exact_clock(2e-6);
  c.first_alarm = Duration{60.0};
  Instrument i(c, p);
  Reading{4.0, 0, 0, 1}.to(i.controller.line.data());
  i.run_to(ticks_per_day);
  const std::vector<Tick> alarms = i.times_of("alarm");
  REQUIRE(alarms.size() == 143);  // 86400 s / 604.8 s
  for (std::size_t k = 0; k < alarms.size(); ++k) {
    CHECK(alarms[k] == 60 * ticks_per_second + static_cast<Tick>(k) * (hold + sleep));
  }
  const std::vector<Tick> completed = i.times_of("wake completed");
  for (std::size_t k = 0; k < completed.size(); ++k) CHECK(completed[k] == alarms[k] + hold);
}

// Common practice: open-drain interrupt output, low while the flag is set, at most 0.4 V at 3 mA as the open two-wire
// bus asks of its drivers; released, its leakage leaves the pull-up above 90 % of its supply.
TEST_CASE("the alarm line falls when the flag is set and rises when it is cleared") {
  ClockParameters c = exact_clock(2e-6);
  c.first_alarm = Duration{60.0};
  Instrument i(c, measuring_controller());
  Reading{4.0, 0, 0, 1}.to(i.controller.line.data());
  const auto low = [&] { return i.line_voltage() < 0.4; };
  const auto high = [&] { return i.line_voltage() > 0.9 * battery; };
  i.run_to(60 * ticks_per_second - 1);
  CHECK(high());
  i.run_to(60 * ticks_per_second);
  CHECK(low());
  CHECK(3e-3 / i.clock.currents()[2] < 0.4);  // the line stands at 1 V here
  i.run_to(64 * ticks_per_second);
  CHECK(low());
  i.run_to(65 * ticks_per_second);
  CHECK(high());
  i.run_to(600 * ticks_per_second);
  CHECK(high());
  i.run_to(665 * ticks_per_second);
  CHECK(low());
}

// Common practice: firmware that forgets the flag, or dies before it clears it, leaves the line low and the instrument
// switched on, which drains the battery.
TEST_CASE("a flag that is never cleared keeps the instrument on") {
  ControllerParameters p = measuring_controller();
  p.clears_flag = false;
  Instrument i(exact_clock(2e-6), p);
  Reading{4.0, 0, 0, 1}.to(i.controller.line.data());
  i.run_to(ticks_per_day);
  CHECK(i.line_voltage() < 0.4);
  CHECK(i.controller.label("mode") == "idle");
  CHECK(i.times_of("wake completed").size() == 1);
  CHECK(i.charge / 86400 > 0.99 * 0.008);
}

// Common practice: a clock of a few microamperes lives for years on a coin cell; data sheets of clocks say ten years
// and more for one microampere.
TEST_CASE("a clock of a few microamperes lives for years on a coin cell") {
  CHECK(left_after(10, 1, 0.01) > 0.5 * coin_cell);
  CHECK(left_after(5, 3, 0.01) > 0);
  CHECK(left_after(10, 10, 0.01) < 0);
}
