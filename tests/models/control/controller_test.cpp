#include "models/control/controller.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "models/reading.hpp"
#include "tests/models/support/control_examples.hpp"
#include "tests/models/support/in_time.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;
using Bits = std::vector<double>;

constexpr Tick some_day = 1'731'000'000 * ticks_per_second + 123'456'789;  // not on a whole second
constexpr Tick delay = 2'000'000, boot_time = 65'000'000;
constexpr Tick first = delay + boot_time;  // from a valid supply to the first phase
constexpr Tick measure = 2 * ticks_per_second, compute = 1'234'567'891, send = 1'500'000'000;
constexpr Tick wake = first + measure + compute + send;
constexpr Tick reset_time = ticks_per_second / 100;

void at(Alone& c, double supply) { c.z = {supply + 0.25, 0.25}; }

InTime controller(const ControllerParameters& p = measuring_controller()) {
  Alone c = build<Controller>(p);
  c.now.utc = some_day;
  c.start(Ambient{});
  at(c, 0);
  InTime started(c);
  started.settle();
  REQUIRE(started.happened.empty());
  return started;
}

void supply(InTime& c, double v) {
  at(c, v);
  c.settle();
}

/// A supply that is valid for the power-on delay.
void power_up(InTime& c, double v) {
  supply(c, v);
  REQUIRE(c.label("mode") == "power-on delay");
  c.run_to(c.now.utc + delay);
  REQUIRE(c.label("mode") == "booting");
}

void shows(Alone& c, double volts, double noise = 0, double seed = 1) {
  Reading{volts, noise, 0, seed}.to(c.line.data());
}

int mode(const Alone& c) { return c.memory[Controller::mode]; }

/// Lives through the timer that runs, to its very end.
void wait_out(InTime& c) {
  REQUIRE(c.alarms[Controller::timer_alarm] != never);
  c.run_to(c.alarms[Controller::timer_alarm]);
  REQUIRE(c.alarms[Controller::timer_alarm] == never);
}

/// Power comes and goes around one whole wake. The interval it wrote, s.
double whole_wake(InTime& c) {
  supply(c, 3.3);
  c.run_to(c.now.utc + wake);
  REQUIRE(c.label("mode") == "idle");
  supply(c, 0);
  REQUIRE(mode(c) == Controller::off_timer);
  wait_out(c);
  REQUIRE(mode(c) == Controller::off);
  return c.line_output("bus")[1];
}

ControllerParameters without_detector() {
  ControllerParameters p = measuring_controller();
  p.brownout_detector = false;
  return p;
}

Bits outputs(const Alone& c) {
  Bits bits;
  for (const char* name : {"out_1", "out_2", "out_3", "out_4"}) bits.push_back(c.line_output(name)[0]);
  return bits;
}

/// Neither running nor about to.
void check_at_rest(const Alone& c, const std::string& mode) {
  CHECK(c.label("mode") == mode);
  CHECK(c.output("phase") == 0);
  CHECK(c.alarms[Controller::phase_alarm] == never);
  CHECK(c.alarms[Controller::end_alarm] == never);
  CHECK(c.alarms[Controller::boot_alarm] == never);
  const int now = c.memory[Controller::mode];
  const bool timed = now == Controller::reset_timer || now == Controller::off_timer;
  CHECK((c.alarms[Controller::timer_alarm] != never) == timed);
  CHECK(outputs(c) == Bits{0, 0, 0, 0});
}

int count(const InTime& c, const std::string& name) {
  int times = 0;
  for (const auto& [time, what] : c.happened) times += what == name ? 1 : 0;
  return times;
}

/// 1 mV per row, each row's interval its number: the interval tells the voltage read.
std::shared_ptr<const Policy> fine_policy() {
  PolicyParameters p;
  for (int i = 1; i <= 400; ++i) p.table.push_back({Voltage{3.5 + i * 1e-3}, Duration{double(i)}});
  p.table.push_back({std::nullopt, Duration{401.0}});
  std::vector<Finding> findings;
  return Policy::build(p, findings);
}

}  // namespace

TEST_CASE("controller (2): off it is a resistor") {
  Alone c = controller();
  for (const double v : {-1.0, 0.0, 0.5}) {
    at(c, v);
    CHECK(c.currents()[0] == doctest::Approx(v / 1e6));
    CHECK(c.currents()[1] == -c.currents()[0]);
  }
}

TEST_CASE("controller: power comes, and it waits in reset until the supply is valid") {
  InTime c = controller();
  for (const double v : {0.75, 0.94}) {
    supply(c, v);
    CHECK(c.label("mode") == "off");
  }
  at(c, 0.96);
  CHECK(c.one_round() == Names{"power came"});
  for (const double v : {0.96, 1.9, 2.75, 2.875 - 1e-9}) {
    supply(c, v);
    check_at_rest(c, "reset");
  }
  CHECK(c.output("current") == 100e-6);
  at(c, 2.875);
  CHECK(c.one_round() == Names{"supply valid"});
  CHECK(c.label("mode") == "power-on delay");
  CHECK(c.output("current") == 100e-6);
  CHECK(c.alarms == std::vector<Tick>{never, never, some_day + delay, never});
  CHECK(c.one_round().empty());
  c.run_to(some_day + delay - 1);
  CHECK(c.label("mode") == "power-on delay");
  c.now.utc = some_day + delay;
  CHECK(c.one_round() == Names{"boot"});
  CHECK(c.label("mode") == "booting");
  CHECK(c.output("current") == 0.012);
  CHECK(c.alarms == std::vector<Tick>{some_day + delay + boot_time, never, never, never});
  CHECK(c.one_round().empty());
}

TEST_CASE("controller: a supply that dips within the power-on delay begins it anew, and that is no brown-out") {
  for (const bool detector : {true, false}) {
    ControllerParameters p = detector ? measuring_controller() : without_detector();
    p.power_on_delay = Duration{0.065};
    const Tick long_delay = 65'000'000;
    const double threshold = detector ? 2.75 : 1.875;
    InTime c = controller(p);
    supply(c, 3.3);
    for (const Tick when : {Tick{1}, long_delay / 2, long_delay - 1}) {
      CAPTURE(detector);
      CAPTURE(when);
      const Tick valid = c.now.utc;
      c.run_to(valid + when);
      at(c, threshold + 1e-9);  // hysteresis is asked of the rise only
      CHECK(c.one_round().empty());
      at(c, threshold);
      CHECK(c.one_round() == Names{"supply not valid"});
      check_at_rest(c, "reset");
      CHECK(c.output("current") == doctest::Approx(100e-6).epsilon(0.05));
      supply(c, threshold + 0.124);
      c.run_to(c.now.utc + ticks_per_day);
      check_at_rest(c, "reset");
      at(c, threshold + 0.125);
      CHECK(c.one_round() == Names{"supply valid"});
      CHECK(c.alarms[Controller::boot_alarm] == c.now.utc + long_delay);  // the whole of it
    }
    const Tick valid = c.now.utc;
    c.run_to(valid + long_delay - 1);
    CHECK(count(c, "boot") == 0);
    c.run_to(valid + long_delay);
    CHECK(count(c, "boot") == 1);
    for (const auto& [time, name] : c.happened) CHECK(c.event(name).routine);
    c.run_to(valid + long_delay + boot_time);
    CHECK(c.output("phase") == 1);
  }
}

TEST_CASE("controller: a dip on the very tick at which the power-on delay ends keeps it from booting") {
  for (const double low : {2.5, 0.0}) {
    InTime c = controller();
    supply(c, 3.3);
    c.run_to(some_day + delay - 1);
    c.now.utc = some_day + delay;
    at(c, low);
    CHECK(c.one_round() == (low == 0 ? Names{"supply not valid", "power gone"} : Names{"supply not valid"}));
    check_at_rest(c, low == 0 ? "off" : "reset");
    CHECK(count(c, "boot") == 0);
  }
}

TEST_CASE("controller: power that comes at once takes two rounds of the same tick") {
  InTime c = controller();
  at(c, 3.3);
  CHECK(c.one_round() == Names{"power came"});
  CHECK(c.one_round() == Names{"supply valid"});
  CHECK(c.one_round().empty());
}

TEST_CASE("controller: phases in order, on exact ticks, with their currents and outputs") {
  InTime c = controller();
  power_up(c, 3.3);
  c.happened.clear();
  const auto in_phase = [&](double number, double current, const Bits& out) {
    CHECK(c.output("phase") == number);
    CHECK(c.output("current") == doctest::Approx(current).epsilon(1e-12));
    CHECK(c.currents()[0] == c.output("current"));
    CHECK(outputs(c) == out);
  };
  c.run_to(some_day + first - 1);
  CHECK(c.label("mode") == "booting");
  in_phase(0, 0.012, {0, 0, 0, 0});
  c.run_to(some_day + first);
  CHECK(c.label("mode") == "running");
  in_phase(1, 0.005, {1, 0, 0, 0});
  c.run_to(some_day + first + measure - 1);
  in_phase(1, 0.005, {1, 0, 0, 0});
  c.run_to(some_day + first + measure);
  in_phase(2, 0.02, {0, 0, 0, 0});
  c.run_to(some_day + first + measure + compute);
  in_phase(3, 0.4 / 3.3, {1, 1, 0, 1});
  c.run_to(some_day + wake - 1);
  in_phase(3, 0.4 / 3.3, {1, 1, 0, 1});
  CHECK(c.line_output("bus")[0] == 0);
  c.run_to(some_day + wake);
  check_at_rest(c, "idle");
  in_phase(0, 0.008, {0, 0, 0, 0});
  CHECK(c.line_output("bus")[0] == 1);
  const std::vector<std::pair<Tick, std::string>> expected{{some_day + first, "phase begins"},
                                                           {some_day + first + measure, "phase begins"},
                                                           {some_day + first + measure + compute, "phase begins"},
                                                           {some_day + wake, "wake completed"}};
  CHECK(c.happened == expected);
  c.run_to(some_day + 365 * ticks_per_day);
  CHECK(c.happened == expected);
}

TEST_CASE("controller: a wake of one phase, the shortest there is") {
  ControllerParameters p = measuring_controller();
  p.phases.resize(1);
  p.phases[0].duration = Duration{1e-3};
  InTime c = controller(p);
  supply(c, 3.3);
  c.run_to(some_day + first);
  CHECK(c.alarms[Controller::phase_alarm] == never);
  CHECK(c.alarms[Controller::end_alarm] == some_day + first + 1'000'000);
  c.run_to(some_day + first + 1'000'000);
  check_at_rest(c, "idle");
}

TEST_CASE("controller (1): currents and powers turn resistive below the supply range") {
  InTime c = controller(without_detector());
  supply(c, 3.3);
  c.run_to(some_day + first + measure);
  at(c, 1.5);
  CHECK(c.output("current") == doctest::Approx(0.02 * 1.5 / 1.875).epsilon(1e-12));
  at(c, 3.3);
  c.run_to(some_day + first + measure + compute);
  at(c, 1.875);
  CHECK(c.output("current") == doctest::Approx(0.4 * 0.9875 * 0.9875 / 1.875).epsilon(1e-12));  // rounded corner
  at(c, 1.97);
  CHECK(c.output("current") == doctest::Approx(0.4 / 1.97).epsilon(1e-12));
  at(c, 1.5);
  CHECK(c.output("current") == doctest::Approx(0.4 * 1.5 / (1.875 * 1.875)).epsilon(1e-12));
}

TEST_CASE("controller: the voltage is read when the named phase begins, and at no other time") {
  for (const int named : {0, 1, 2}) {
    ControllerParameters p = measuring_controller();
    if (named > 0) p.reads_in = p.phases[static_cast<std::size_t>(named)].name;
    InTime c = controller(p);
    const Tick begins[] = {first, first + measure, first + measure + compute};
    shows(c, 4.0);  // ten minutes; what holds outside the named phase's first instant
    supply(c, 3.3);
    c.run_to(some_day + begins[named] - 1);
    CHECK(c.output("interval") == 0);
    shows(c, 3.6);  // an hour
    c.run_to(some_day + begins[named]);
    CHECK(c.output("interval") == 3600);
    shows(c, 4.0);
    c.run_to(some_day + wake);
    CHECK(c.line_output("bus") == Bits{1, 3600, 1, 0});
  }
}

TEST_CASE("controller: bus counts the completed wakes and carries the interval in whole seconds") {
  InTime c = controller();
  CHECK(c.line_output("bus") == Bits{0, 0, 1, 0});
  shows(c, 4.0);
  for (int i = 1; i <= 3; ++i) {
    CHECK(whole_wake(c) == 600);
    CHECK(c.line_output("bus") == Bits{double(i), 600, 1, 0});
  }
  shows(c, 3.0);
  CHECK(whole_wake(c) == 21600);
}

TEST_CASE("controller: a firmware that leaves the alarm flag says so on the bus") {
  ControllerParameters p = measuring_controller();
  p.clears_flag = false;
  InTime c = controller(p);
  shows(c, 4.0);
  whole_wake(c);
  CHECK(c.line_output("bus") == Bits{1, 600, 0, 0});
}

TEST_CASE("controller: the row of the policy's table outlives the supply") {
  InTime c = controller();
  shows(c, 3.52);
  CHECK(whole_wake(c) == 3600);  // a fresh start knows no row: no hysteresis
  shows(c, 3.4);
  CHECK(whole_wake(c) == 21600);
  shows(c, 3.52);
  CHECK(whole_wake(c) == 21600);  // within the hysteresis
  shows(c, 3.56);
  CHECK(whole_wake(c) == 3600);
}

TEST_CASE("controller: one interval for all voltages needs no reading") {
  ControllerParameters p = measuring_controller();
  PolicyParameters always;
  always.every = Duration{1234.0};
  std::vector<Finding> findings;
  p.policy = Policy::build(always, findings);
  InTime c = controller(p);
  REQUIRE(std::isnan(c.line[0]));
  CHECK(whole_wake(c) == 1234);
  CHECK(whole_wake(c) == 1234);
}

TEST_CASE("controller: noise differs from wake to wake, the same in every run, another for another seed") {
  ControllerParameters p = measuring_controller();
  p.policy = fine_policy();
  const auto intervals = [&](double seed) {
    InTime c = controller(p);
    shows(c, 3.7, 0.02, seed);
    std::vector<double> all;
    for (int i = 0; i < 40; ++i) all.push_back(whole_wake(c));
    return all;
  };
  const std::vector<double> first = intervals(7);
  CHECK(first == intervals(7));
  CHECK(first != intervals(8));
  CHECK(std::set<double>(first.begin(), first.end()).size() > 20);
  for (std::size_t i = 0; i < first.size(); ++i) {
    const double read = 3.7 + 0.02 * normal_number(7, i + 1);
    CHECK(first[i] == std::floor((read - 3.5) * 1000) + 1);
  }
}

TEST_CASE("controller: brown-out in any part of a wake takes alarms and outputs with it") {
  for (const Tick when : {delay, first, first + measure + 1, wake - 1}) {
    InTime c = controller();
    supply(c, 3.3);
    c.run_to(some_day + when);
    at(c, 2.75 + 1e-9);
    CHECK(c.one_round().empty());
    at(c, 2.75);
    CHECK(c.one_round() == Names{"brown-out"});
    check_at_rest(c, "reset timer");
    CHECK(c.output("current") == 100e-6);
    supply(c, 2.8);  // hysteresis
    c.run_to(some_day + ticks_per_day);
    check_at_rest(c, "reset");
    CHECK(c.line_output("bus")[0] == 0);

    c.happened.clear();
    supply(c, 2.9);  // from the beginning, and to the end
    c.run_to(some_day + ticks_per_day + wake);
    CHECK(c.label("mode") == "idle");
    CHECK(c.line_output("bus")[0] == 1);
    CHECK(c.happened.size() == 6);
  }
}

TEST_CASE("controller: brown-out of a supply that the boot itself pulls down happens again and again") {
  InTime c = controller();
  power_up(c, 2.9);
  for (int attempt = 0; attempt < 5; ++attempt) {
    CHECK(c.label("mode") == "booting");
    supply(c, 2.7);
    CHECK(c.label("mode") == "reset timer");
    supply(c, 2.9);  // back at once, as when the load has gone
    CHECK(c.label("mode") == "reset timer");
    wait_out(c);
    c.run_to(c.now.utc + delay);
  }
  CHECK(count(c, "boot") == 6);
}

TEST_CASE("controller: a reset lasts reset_time, however soon the supply is back") {
  for (const bool in_wake : {true, false}) {
    InTime c = controller();
    supply(c, 3.3);
    c.run_to(some_day + (in_wake ? first + 1 : wake));
    supply(c, 2.5);
    supply(c, 3.3);
    const Tick over = c.now.utc + reset_time;
    CHECK(mode(c) == Controller::reset_timer);
    CHECK(c.alarms[Controller::timer_alarm] == over);
    CHECK(c.output("current") == 100e-6);
    CHECK(c.flow("reset") == doctest::Approx(3.3 * 100e-6).epsilon(1e-12));
    c.run_to(over - 1);
    CHECK(mode(c) == Controller::reset_timer);
    c.run_to(over);
    CHECK(mode(c) == Controller::power_on);
    CHECK(c.alarms[Controller::boot_alarm] == over + delay);
    CHECK(count(c, "reset time over") == 1);
    CHECK(c.alarms[Controller::timer_alarm] == never);
  }
}

TEST_CASE("controller: every loss of power in a row doubles the wait, up to 14 times, until a first phase begins") {
  ControllerParameters p = measuring_controller();
  p.reset_time = Duration{0.02};
  InTime c = controller(p);
  Tick wait = 2 * reset_time;
  for (int dip = 0; dip <= Controller::longest_dip + 2; ++dip) {
    CAPTURE(dip);
    supply(c, 3.3);
    CHECK(mode(c) == Controller::power_on);
    if (dip % 2 == 0) c.run_to(c.now.utc + delay);
    CHECK(mode(c) == (dip % 2 == 0 ? Controller::booting : Controller::power_on));
    supply(c, 0.5);
    CHECK(mode(c) == Controller::off_timer);
    CHECK(c.output("current") == doctest::Approx(0.5e-6).epsilon(1e-12));
    CHECK(c.alarms[Controller::timer_alarm] == c.now.utc + wait);
    supply(c, 3.3);  // too early
    c.run_to(c.now.utc + wait - 1);
    CHECK(mode(c) == Controller::off_timer);
    ++c.now.utc;
    c.settle();  // off, reset and a valid supply in one tick
    CHECK(mode(c) == Controller::power_on);
    if (dip < Controller::longest_dip) wait *= 2;
  }
  CHECK(wait == 2 * reset_time << 14);
  CHECK(count(c, "power gone") == 17);
  c.run_to(c.now.utc + first);
  CHECK(c.output("phase") == 1);
  CHECK(c.memory[Controller::dips] == 0);
  supply(c, 0);
  CHECK(c.alarms[Controller::timer_alarm] == c.now.utc + 2 * reset_time);
}

TEST_CASE("controller: a power-on reset is armed at reset_rearm and not above") {
  InTime c = controller();
  power_up(c, 3.3);
  supply(c, 0.75 + 1e-9);
  wait_out(c);
  check_at_rest(c, "reset");
  at(c, 0.75);
  CHECK(c.one_round() == Names{"power gone"});
  check_at_rest(c, "off");
  CHECK(mode(c) == Controller::off_timer);
  CHECK(c.one_round().empty());
}

TEST_CASE(
    "controller: without a brown-out detector it runs down to the supply range, then hangs until power has gone") {
  for (const Tick when : {delay, first + measure + 1}) {
    InTime c = controller(without_detector());
    supply(c, 3.3);
    c.run_to(some_day + when);
    at(c, 1.875 + 1e-9);
    CHECK(c.one_round().empty());
    at(c, 1.875);
    CHECK(c.one_round() == Names{"brown-out"});
    for (const double v : {1.8, 3.3, 5.0, 1.0, 0.75 + 1e-9, 3.3}) {
      supply(c, v);
      c.run_to(c.now.utc + ticks_per_day);
      check_at_rest(c, "hung");
      CHECK(c.due() == Names{});
      const double share = v == 1.8 ? 0.96 - 0.01 * 0.01 / 0.2 : std::min(1.0, v / 1.875);  // corner at 0.96 Vmin
      CHECK(c.output("current") == doctest::Approx(0.008 * share).epsilon(1e-12));
    }
    supply(c, 0.75);
    wait_out(c);
    check_at_rest(c, "off");
    CHECK(whole_wake(c) == 21600);
    CHECK(c.line_output("bus")[0] == 1);
  }
}

TEST_CASE("controller: idle it goes with its supply, and that is no brown-out") {
  for (const bool detector : {true, false}) {
    InTime c = controller(detector ? measuring_controller() : without_detector());
    supply(c, 3.3);
    c.run_to(some_day + wake);
    c.happened.clear();
    at(c, 1.8);
    CHECK(c.one_round() == Names{"reset while idle"});
    check_at_rest(c, detector ? "reset timer" : "hung");
    supply(c, 0.5);
    check_at_rest(c, "off");
    for (const auto& [time, name] : c.happened) CHECK(c.event(name).routine);
  }
}

TEST_CASE(
    "controller: a supply that dips after the last phase and comes back boots again with a detector, else hangs") {
  InTime good = controller(), bad = controller(without_detector());
  for (InTime* c : {&good, &bad}) {
    supply(*c, 3.3);
    c->run_to(some_day + wake);
    supply(*c, 1.8);
    supply(*c, 3.3);
  }
  CHECK(good.label("mode") == "reset timer");
  wait_out(good);
  CHECK(good.label("mode") == "power-on delay");
  good.run_to(good.now.utc + delay);
  CHECK(good.label("mode") == "booting");
  CHECK(bad.label("mode") == "hung");
}

TEST_CASE("controller: a supply that collapses at once is brown-out and loss of power in one round") {
  for (const bool detector : {true, false}) {
    for (const Tick when : {delay, first, wake - 1}) {
      InTime c = controller(detector ? measuring_controller() : without_detector());
      supply(c, 3.3);
      c.run_to(some_day + when);
      at(c, 0);
      CHECK(c.one_round() == Names{"brown-out", "power gone"});
      check_at_rest(c, "off");
      CHECK(c.one_round().empty());
      wait_out(c);
      CHECK(whole_wake(c) == 21600);
    }
  }
}

TEST_CASE("controller: idle, a supply that collapses at once leaves it off") {
  for (const bool detector : {true, false}) {
    InTime c = controller(detector ? measuring_controller() : without_detector());
    supply(c, 3.3);
    c.run_to(some_day + wake);
    at(c, 0);
    CHECK(c.one_round() == Names{"reset while idle", "power gone"});
    check_at_rest(c, "off");
  }
}

TEST_CASE("controller: a brown-out on the very tick at which a phase ends stops the wake") {
  for (const double low : {2.5, 0.0}) {
    for (const Tick end : {first, first + measure, wake}) {
      CAPTURE(low);
      CAPTURE(end);
      InTime c = controller();
      supply(c, 3.3);
      c.run_to(some_day + end - 1);
      c.now.utc = some_day + end;
      supply(c, low);
      check_at_rest(c, low == 0 ? "off" : "reset timer");
      CHECK(c.line_output("bus")[0] == 0);  // not completed: its supply was not valid at the end
    }
  }
}

TEST_CASE("controller: without a detector a supply below the range on the tick at which a phase ends leaves it hung") {
  for (const Tick end : {first, first + measure, wake}) {
    CAPTURE(end);
    InTime c = controller(without_detector());
    supply(c, 3.3);
    c.run_to(some_day + end - 1);
    c.now.utc = some_day + end;
    supply(c, 1.5);
    check_at_rest(c, "hung");
    CHECK(c.line_output("bus")[0] == 0);
  }
}

TEST_CASE("controller: margin to the brown-out while it should run, none otherwise") {
  InTime c = controller();
  const auto margin = [&] { return c.margin("supply above brown-out"); };
  const double infinite = std::numeric_limits<double>::infinity();
  CHECK(margin() == infinite);
  supply(c, 2.8);
  CHECK(margin() == infinite);
  supply(c, 3.3);
  CHECK(margin() == infinite);  // it does not run yet
  c.run_to(c.now.utc + delay);
  CHECK(margin() == doctest::Approx(0.55).epsilon(1e-12));
  c.run_to(some_day + first);
  at(c, 2.8);
  CHECK(margin() == doctest::Approx(0.05).epsilon(1e-12));
  at(c, 3.3);
  c.run_to(some_day + wake);
  CHECK(margin() == infinite);

  InTime blind = controller(without_detector());
  power_up(blind, 3.3);
  CHECK(blind.margin("supply above brown-out") == doctest::Approx(1.425).epsilon(1e-12));
}

TEST_CASE("controller: a supply above the range is damage in every mode and changes nothing") {
  InTime c = controller();
  CHECK(c.event("supply above range").role == EventRole::damage);
  CHECK_FALSE(c.due("supply above range"));
  supply(c, 5.6);
  CHECK(c.due("supply above range"));
  CHECK(c.label("mode") == "power-on delay");
  at(c, 5.4);
  CHECK_FALSE(c.due("supply above range"));
}

TEST_CASE("controller: what service is counted by") {
  const Alone c = build<Controller>(measuring_controller());
  CHECK(c.event("power came").role == EventRole::power_came);
  CHECK(c.event("boot").role == EventRole::wake_begins);
  CHECK(c.event("brown-out").role == EventRole::brown_out);
  CHECK(c.event("power gone").role == EventRole::power_gone);
  CHECK(c.event("wake completed").role == EventRole::wake_completed);
  CHECK(c.event("boot").load_step);
  for (const char* name : {"supply valid", "supply not valid"}) {
    CHECK(c.event(name).role == EventRole::none);
    CHECK_FALSE(c.event(name).load_step);
  }
  CHECK(c.event("phase begins").load_step);
  CHECK_FALSE(c.event("brown-out").routine);
  CHECK_FALSE(c.event("phase begins").calendar);
}

TEST_CASE("controller: energy ledger, one account per mode") {
  InTime c = controller();
  const auto only = [&](const char* account, double watts) {
    for (const char* name : {"phases", "boot", "idle", "reset", "pin"}) {
      CHECK(c.flow(name) == doctest::Approx(name == std::string(account) ? watts : 0).epsilon(1e-12));
    }
  };
  at(c, 0.5);
  only("reset", 0.25e-6);
  supply(c, 2.8);
  only("reset", 2.8 * 100e-6);
  supply(c, 3.3);
  only("reset", 3.3 * 100e-6);  // in the power-on delay
  c.run_to(some_day + delay);
  only("boot", 3.3 * 0.012);
  c.run_to(some_day + first);
  only("phases", 3.3 * 0.005);
  c.run_to(some_day + first + measure + compute);
  only("phases", 0.4);
  c.run_to(some_day + wake);
  only("idle", 3.3 * 0.008);

  InTime hung = controller(without_detector());
  power_up(hung, 3.3);
  supply(hung, 1.8);
  CHECK(hung.flow("idle") == doctest::Approx(1.8 * 0.008 * (0.96 - 0.01 * 0.01 / 0.2)).epsilon(1e-12));
}

TEST_CASE("controller: the phases in which an output is high") {
  ControllerParameters p = measuring_controller();
  for (ControllerPhase& phase : p.phases) phase.out_1 = phase.out_2 = phase.out_3 = phase.out_4 = false;
  p.phases[0].out_2 = p.phases[2].out_2 = p.phases[1].out_4 = true;
  const Controller controller(p);
  using Names = std::vector<std::string>;
  CHECK(controller.phases_driving("out_1") == Names{});
  CHECK(controller.phases_driving("out_2") == Names{p.phases[0].name, p.phases[2].name});
  CHECK(controller.phases_driving("out_4") == Names{p.phases[1].name});
  CHECK(controller.phases_driving("bus") == Names{});
}

TEST_CASE("controller: findings about a phase name its row") {
  ControllerParameters p = measuring_controller();
  p.phases[2].name = p.phases[1].name;
  std::vector<Finding> findings;
  CHECK_FALSE(static_cast<bool>(Controller::build(p, findings)));
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].row == 2);
  CHECK(findings[0].column == "name");
}

TEST_CASE("controller: findings") {
  using Keys = std::vector<std::string>;
  const auto found = [](auto&& spoil) {
    ControllerParameters p = measuring_controller();
    spoil(p);
    return refused<Controller>(p);
  };
  CHECK(found([](auto& p) { p.phases.clear(); }) == Keys{"phases"});
  CHECK(found([](auto& p) { p.phases[1].current.reset(); }) == Keys{"phases"});
  CHECK(found([](auto& p) { p.phases[1].power = Power{0.1}; }) == Keys{"phases"});
  CHECK(found([](auto& p) { p.phases[2].name = "measure"; }) == Keys{"phases"});
  CHECK(found([](auto& p) { p.reads_in = "sleep"; }) == Keys{"reads_in"});
  CHECK(found([](auto& p) { p.minimum_supply = Voltage{5.5}; }) == Keys{"maximum_supply", "brownout_threshold"});
  CHECK(found([](auto& p) { p.brownout_threshold = Voltage{5.4}; }) == Keys{"brownout_threshold"});
  CHECK(found([](auto& p) { p.reset_rearm = Voltage{2.6}; }) == Keys{"reset_rearm"});
  CHECK(found([](auto& p) {
          p.phases.clear();
          p.reads_in = "send";
          p.reset_rearm = Voltage{2.8};
        }) == Keys{"phases", "reset_rearm"});
  CHECK(found([](auto& p) {
          p.brownout_detector = false;
          p.reset_rearm = Voltage{1.7};  // fine for the threshold, not for the supply range
        }) == Keys{"reset_rearm"});
  const auto detecting = [](ControllerParameters& p, bool detector, double minimum) {
    p.brownout_detector = detector;
    p.minimum_supply = Voltage{minimum};
  };
  CHECK(found([&](auto& p) { detecting(p, true, 2.8); }) == Keys{"brownout_threshold"});  // threshold 2.75 V
  CHECK(found([&](auto& p) { detecting(p, false, 5.4); }) == Keys{"brownout_threshold"});
  const auto fine = [&](bool detector, double minimum, double threshold) {
    ControllerParameters p = measuring_controller();
    detecting(p, detector, minimum);
    p.brownout_threshold = Voltage{threshold};
    CHECK_NOTHROW(build<Controller>(p));
  };
  fine(true, 2.75, 2.75);
  fine(false, 2.8, 5.45);  // without the detector its threshold says nothing
}

TEST_CASE("controller: from which instant the interval counts") {
  const auto elapsed = [](CountsFrom from, const std::string& reads_in) {
    ControllerParameters p = measuring_controller();
    p.counts_from = from;
    p.reads_in = reads_in;
    const Alone c = build<Controller>(p);
    const Duration d = dynamic_cast<const Controller&>(*c.model).counted_before_write();
    CHECK(c.line_output("bus")[3] == d.si());
    return static_cast<Tick>(std::llround(d.si() * 1e9));
  };
  CHECK(elapsed(CountsFrom::write, "") == 0);
  CHECK(elapsed(CountsFrom::write, "send") == 0);
  CHECK(elapsed(CountsFrom::reading, "") == wake - first);
  CHECK(elapsed(CountsFrom::reading, "compute") == wake - first - measure);
  CHECK(elapsed(CountsFrom::wake, "") == wake);
  CHECK(elapsed(CountsFrom::wake, "send") == wake);
  CHECK(ControllerParameters{}.counts_from == CountsFrom::write);
}

TEST_CASE("controller: a phase that is tried again lasts so many times as long, from its next begin on") {
  FaultValues values;
  values.phase = "send";
  values.times = 10;
  const auto retrying = build<Controller>(faulty<Controller>(measuring_controller(), "retries", values)).model;
  InTime c = controller(), late = c;
  c.goes_on(retrying);
  const Tick begin = c.now.utc;
  supply(c, 3.3);
  c.run_to(begin + 2 * wake + 9 * send);
  CHECK(c.happened.back() == std::pair(begin + wake + 9 * send, std::string("wake completed")));
  supply(late, 3.3);
  late.run_to(begin + first + measure + compute + 1);
  late.goes_on(retrying);
  late.run_to(begin + 2 * wake);
  CHECK(late.happened.back() == std::pair(begin + wake, std::string("wake completed")));
}

TEST_CASE("controller: a firmware that hangs draws on, writes no alarm, and is reset when that is over") {
  const auto healthy = build<Controller>(measuring_controller()).model,
             hung = build<Controller>(faulty<Controller>(measuring_controller(), "hung")).model;
  InTime c = controller();
  supply(c, 3.3);
  const Tick begin = c.now.utc;
  c.run_to(begin + first + measure + 1);
  const double current = c.output("current");
  c.goes_on(hung);
  c.run_to(begin + 1000 * wake);
  CHECK(c.output("phase") == 2);
  CHECK(c.output("current") == current);
  CHECK(c.line_output("bus")[0] == 0);
  c.goes_on(healthy);
  CHECK(mode(c) == Controller::reset_timer);
  wait_out(c);
  c.settle();
  c.run_to(c.now.utc + wake);
  CHECK(c.label("mode") == "idle");
  CHECK(c.line_output("bus")[0] == 1);

  InTime asleep = controller();
  asleep.goes_on(hung);
  asleep.goes_on(healthy);
  CHECK(mode(asleep) == Controller::off);  // it never came to hang
  asleep.goes_on(hung);
  supply(asleep, 3.3);
  asleep.run_to(asleep.now.utc + 1000 * wake);
  CHECK(asleep.output("phase") == 1);
}

TEST_CASE("controller: a firmware that hangs in one phase passes through the others") {
  FaultValues values;
  values.phase = "send";
  InTime c = controller();
  supply(c, 3.3);
  c.goes_on(build<Controller>(faulty<Controller>(measuring_controller(), "hung", values)).model);
  c.run_to(c.now.utc + 1000 * wake);
  CHECK(c.output("phase") == 3);
  CHECK(c.line_output("bus")[0] == 0);
}

namespace {

/// The controller in a transient, behind a feed: RK4 through `seconds`. The least supply.
double live(Alone& c, double volts, double siemens, double seconds, int steps = 2000) {
  const auto balance = [&] {  // what the feed gives is what the controller takes
    double low = -10, high = 10;
    for (int i = 0; i < 100; ++i) {
      const double middle = (low + high) / 2;
      at(c, middle);
      (c.currents()[0] < (volts - middle) * siemens ? low : high) = middle;
    }
    at(c, high);
    return high;
  };
  const double h = seconds / steps;
  double lowest = balance();
  for (int i = 0; i < steps; ++i) {
    const double x = c.x[0];
    double rate[4];
    for (int k = 0; k < 4; ++k) {
      c.x[0] = k == 0 ? x : x + (k == 3 ? h : h / 2) * rate[k - 1];
      balance();
      rate[k] = c.rates()[0];
    }
    c.x[0] = x + h / 6 * (rate[0] + 2 * rate[1] + 2 * rate[2] + rate[3]);
    lowest = std::min(lowest, balance());
  }
  return lowest;
}

constexpr double pin = 100e-12, bond = 1;  // F, ohm

}  // namespace

TEST_CASE("controller (3): die and pin charge through the feed's resistance, in a transient only") {
  // E (1 - exp(-t / RC)), textbook; R is the feed's beside Roff, and the bond's.
  InTime c = controller();
  CHECK(c.rates() == std::vector<double>{0});
  at(c, 0.3);
  CHECK(c.currents()[0] == doctest::Approx(0.3e-6).epsilon(1e-12));
  CHECK(c.rates() == std::vector<double>{0});
  at(c, 0);
  c.enter_transient();
  const double feed = 1e3, off = 1e6, share = off / (feed + off), tau = pin * (bond + feed * share);
  for (const double times : {0.5, 1.0, 2.0}) {
    Alone one = c;
    CHECK(live(one, 0.7, 1 / feed, times * tau) >= 0);
    CHECK(one.x[0] == doctest::Approx(0.7 * share * (1 - std::exp(-times))).epsilon(1e-9));
  }
  Alone one = c;
  live(one, 0.7, 1 / feed, 20 * tau);
  CHECK(one.z[0] - one.z[1] == doctest::Approx(0.7 * share).epsilon(1e-6));
}

TEST_CASE("controller (3): a transient begins with the settled current, in every mode") {
  for (int mode = 0; mode < Controller::mode_count; ++mode) {
    for (const double v : {0.0, 0.5, 2.0, 3.3}) {
      CAPTURE(mode);
      CAPTURE(v);
      Alone c = controller();
      c.memory[Controller::mode] = mode;
      at(c, v);
      const double settled = c.currents()[0];
      c.enter_transient();
      CHECK(c.currents()[0] == settled);
      CHECK(c.rates()[0] == 0);
      CHECK(c.flow("pin") == 0);
      at(c, v + 0.1);  // into the pin, too
      const double into_pin = 0.1 / bond;
      CHECK(c.rates()[0] == doctest::Approx(into_pin / pin).epsilon(1e-9));
      CHECK(c.flow("pin") == doctest::Approx((v + 0.1) * into_pin).epsilon(1e-9));
      c.leave_transient();
      CHECK(c.rates()[0] == 0);
      CHECK(c.flow("pin") == 0);
    }
  }
}

TEST_CASE("controller (3): a supply that is cut falls by I t / C, and never below zero") {
  // The charge of a capacitor at a constant current: textbook.
  InTime c = controller();
  power_up(c, 3.3);
  c.run_to(c.now.utc + boot_time + measure);  // 20 mA
  REQUIRE(c.output("current") == 0.02);
  c.enter_transient();
  Alone falling = c;
  const double seconds = 1.2 * pin / 0.02;  // from 3.3 V to 2.1 V
  CHECK(live(falling, 0, 0, seconds) == doctest::Approx(2.1 - 0.02 * bond).epsilon(1e-6));
  CHECK(falling.x[0] == doctest::Approx(2.1).epsilon(1e-6));
  CHECK(live(c, 0, 0, 100 * seconds) >= 0);
  CHECK(c.x[0] < 1e-3);
}
