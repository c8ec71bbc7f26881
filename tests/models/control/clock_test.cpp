#include "models/control/clock.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/bus.hpp"
#include "tests/models/support/control_examples.hpp"
#include "tests/models/support/in_time.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;

constexpr Tick second = ticks_per_second;
constexpr Tick some_day = 1'731'000'000 * ticks_per_second + 123'456'789;  // not on a whole second

/// No error of the crystal at any temperature.
ClockParameters compensated(ClockParameters p = {}) {
  p.drift_curvature = PerKelvinSquared{0.0};
  return p;
}

/// Supply and interrupt line against a ground that is not at zero.
void at(Alone& c, double supply, double line = 3.0) { c.z = {supply + 0.25, 0.25, line + 0.25}; }

/// A clock that has started on a good supply, its first alarm an hour away.
InTime clock_at(ClockParameters p, double degrees = 25) {
  p.first_alarm = Duration{3600.0};
  Alone c = build<Clock>(p);
  c.now.utc = some_day;
  c.start(air(degrees));
  at(c, 3.3);
  InTime running(c);
  running.settle();
  REQUIRE(running.happened.empty());
  return running;
}

void write(Alone& c, double writes, double interval, double clears = 1) {
  Bus{writes, interval, clears}.to(c.line.data());
}

/// Seconds by which an alarm after a day comes late.
double late_per_day(const ClockParameters& p, double degrees) {
  InTime c = clock_at(p, degrees);
  write(c, 1, 86400);
  c.settle();
  return static_cast<double>(c.alarms[0] - some_day - ticks_per_day) / ticks_per_second;
}

}  // namespace

TEST_CASE("clock (1): 100 ppm are 8.64 s a day, early for a clock that gains") {
  ClockParameters p = compensated();
  for (const double degrees : {-20.0, 25.0, 40.0}) {
    p.drift = 100e-6;
    CHECK(std::abs(late_per_day(p, degrees) - -8.64) < 0.001);  // 86400 d / (1 + d) instead of 86400 d
    p.drift = -100e-6;
    CHECK(std::abs(late_per_day(p, degrees) - 8.64) < 0.001);
  }
}

TEST_CASE("clock (1): the parabola loses time on both sides of the turnover temperature") {
  const ClockParameters p;
  CHECK(late_per_day(p, 25) == 0);
  // 0.035 ppm/K2: 3.5 ppm at 10 K, 70.875 ppm at 45 K.
  CHECK(std::abs(late_per_day(p, 15) - 3.5e-6 * 86400) < 1e-5);
  CHECK(std::abs(late_per_day(p, 35) - 3.5e-6 * 86400) < 1e-5);
  CHECK(std::abs(late_per_day(p, -20) - 70.875e-6 * 86400) < 1e-3);
  ClockParameters fast = p;
  fast.drift = 70.875e-6;
  CHECK(std::abs(late_per_day(fast, -20)) < 1e-6);
  CHECK(Clock(fast).deviation(celsius(25)) == 70.875e-6);
}

TEST_CASE("clock (1): the deviation of the moment of writing counts") {
  InTime c = clock_at({}, 25);
  c.weather(air(15));
  write(c, 1, 86400);
  c.settle();
  CHECK(c.alarms[0] - some_day == ticks_per_day + 302'401'058);  // 86400 s / (1 - 3.5e-6), to the nanosecond
}

TEST_CASE("clock: without error an alarm comes to the nanosecond, from a second to a leap year") {
  for (const std::int32_t interval : {1, 59, 600, 86400, 366 * 86400}) {
    InTime c = clock_at(compensated());
    write(c, 1, interval);
    c.settle();
    CHECK(c.alarms[0] == some_day + interval * second);
  }
}

TEST_CASE("clock: the first alarm counts from the start of the span, on the clock's own time") {
  CHECK(clock_at(compensated()).alarms[0] == some_day + 3600 * second);
  ClockParameters slow = compensated();
  slow.drift = -1e-3;
  CHECK(std::abs(static_cast<double>(clock_at(slow).alarms[0] - some_day) / ticks_per_second - 3603.6036) < 1e-4);
  CHECK(build<Clock>(slow).event("alarm").calendar);
}

TEST_CASE("clock: the alarm sets the flag once, and nothing further is due") {
  InTime c = clock_at(compensated());
  c.run_to(some_day + 3600 * second - 1);
  CHECK(c.label("flag") == "clear");
  c.run_to(some_day + 3600 * second);
  CHECK(c.label("flag") == "set");
  CHECK(c.alarms[0] == never);
  REQUIRE(c.happened.size() == 1);
  CHECK(c.happened[0].second == "alarm");
}

TEST_CASE("clock: a write is seen once; it moves the alarm and clears the flag") {
  InTime c = clock_at(compensated());
  c.run_to(some_day + 3600 * second);
  write(c, 1, 600);
  CHECK(c.one_round() == Names{"alarm written"});
  CHECK(c.label("flag") == "clear");
  CHECK(c.alarms[0] == c.now.utc + 600 * second);
  CHECK(c.one_round().empty());

  c.now.utc += 10 * second;  // a second write before the alarm
  write(c, 2, 900);
  c.settle();
  CHECK(c.alarms[0] == c.now.utc + 900 * second);
  c.now.utc += second;
  write(c, 2, 5);  // the same write, whatever else the line shows
  CHECK(c.one_round().empty());
}

TEST_CASE("clock: a firmware that leaves the flag keeps the line low through the next alarms") {
  InTime c = clock_at(compensated());
  c.run_to(some_day + 3600 * second);
  write(c, 1, 600, 0);
  c.settle();
  CHECK(c.label("flag") == "set");
  CHECK(c.alarms[0] == some_day + 4200 * second);
  c.run_to(some_day + 4200 * second);
  CHECK(c.label("flag") == "set");
  CHECK(c.alarms[0] == never);
}

TEST_CASE("clock: alarm and write at the same instant leave the flag clear and the new alarm laid") {
  InTime c = clock_at(compensated());
  c.now.utc = some_day + 3600 * second;
  write(c, 1, 600);
  CHECK(c.one_round() == Names{"alarm", "alarm written"});
  CHECK(c.label("flag") == "clear");
  CHECK(c.alarms[0] == some_day + 4200 * second);
}

TEST_CASE("clock: without a controller on its bus it only ever sees its first alarm") {
  InTime c = clock_at(compensated());
  CHECK(std::isnan(c.line[0]));
  CHECK_FALSE(c.due("alarm written"));
  c.run_to(some_day + 365 * ticks_per_day);
  REQUIRE(c.happened.size() == 1);
  CHECK(c.happened[0].first == some_day + 3600 * second);
}

TEST_CASE("clock (2): supply and coin cell take turns, continuously and without a gap") {
  Alone c = clock_at(clock_with_coin_cell());
  const auto from_supply = [&](double v) {
    at(c, v);
    return c.currents()[0];
  };
  const auto from_cell = [&](double v) {
    at(c, v);
    return -c.rates()[0] - 0.01 / 31556925.97 * c.x[0];
  };
  for (const double v : {2.2, 3.3, 5.5}) {
    CHECK(relative_error(from_supply(v), 2e-6) < 1e-12);
    CHECK(std::abs(from_cell(v)) < 1e-18);
  }
  for (const double v : {-1.0, 0.0, 1.0, 2.0999999}) {
    CHECK(from_supply(v) == 0);
    CHECK(relative_error(from_cell(v), 1e-6) < 1e-9);
  }
  CHECK(relative_error(from_supply(2.15), 1e-6) < 1e-9);  // halfway
  CHECK(relative_error(from_cell(2.15), 0.5e-6) < 1e-9);
  double before = from_supply(2.05);
  for (double v = 2.05; v < 2.25; v += 1e-4) {
    const double now = from_supply(v);
    CHECK(now >= before);
    CHECK(now - before < 2e-6 * 1.5 * 1e-4 / 0.1 * 1.001);  // the cubic's steepest slope is 1.5 over its width
    CHECK(std::abs(now / 2e-6 + from_cell(v) / 1e-6 - 1) < 1e-9);
    before = now;
  }
}

TEST_CASE("clock (3): self-discharge is a share of what is left, with and without supply") {
  ClockParameters p = clock_with_coin_cell();
  p.backup_self_discharge = Rate{1e-9};
  Alone c = clock_at(p);
  CHECK(relative_error(c.rates()[0], -1e-9 * 792) < 1e-12);
  c.x[0] = 396;
  CHECK(relative_error(c.rates()[0], -1e-9 * 396) < 1e-12);
  at(c, 0);
  CHECK(relative_error(c.rates()[0], -(1e-6 + 1e-9 * 396)) < 1e-12);
}

TEST_CASE("clock: the coin cell's charge at the start, and a clock that has none") {
  ClockParameters p = clock_with_coin_cell();
  p.backup_charge = 0.25;
  Alone quarter = clock_at(p);
  CHECK(quarter.x[0] == doctest::Approx(0.055 * 3600).epsilon(1e-15));
  CHECK(quarter.output("backup_charge") == quarter.x[0]);
  CHECK_FALSE(quarter.due("coin cell empty"));

  p.backup_charge = 0;
  for (const ClockParameters& without : {p, ClockParameters{}}) {
    Alone c = clock_at(without);
    CHECK(c.x[0] == 0);
    CHECK(c.rates()[0] == 0);
    at(c, 2.15);
    CHECK(c.rates()[0] == 0);
    CHECK_FALSE(c.due("coin cell empty"));  // it never held anything
  }
}

TEST_CASE("clock: the coin cell is empty at zero exactly, draws nothing from then on, and the clock stops") {
  InTime c = clock_at(compensated(clock_with_coin_cell()));
  at(c, 0);
  c.x[0] = 1e-12;
  CHECK(c.one_round().empty());
  c.x[0] = 0;
  CHECK(c.one_round() == Names{"coin cell empty"});
  CHECK(c.rates()[0] == 0);
  CHECK(c.flow("backup") == 0);
  CHECK(c.one_round() == Names{"clock stops"});
  CHECK(c.alarms[0] == never);
  CHECK(c.one_round().empty());
}

TEST_CASE("clock: an empty coin cell stops nothing while there is a supply") {
  InTime c = clock_at(compensated(clock_with_coin_cell()));
  c.x[0] = 0;
  CHECK(c.one_round() == Names{"coin cell empty"});
  CHECK(c.one_round().empty());
  CHECK(c.alarms[0] == some_day + 3600 * second);
}

TEST_CASE("clock: the coin cell carries alarm, flag and interrupt through a dead supply") {
  InTime c = clock_at(compensated(clock_with_coin_cell()));
  at(c, 0);
  c.run_to(some_day + 3600 * second);
  CHECK(c.label("flag") == "set");
  CHECK(relative_error(c.currents()[2], 3.0 / 50) < 1e-12);
  write(c, 1, 600);
  c.settle();
  CHECK(c.label("flag") == "clear");
  CHECK(c.alarms[0] == some_day + 4200 * second);
}

TEST_CASE("clock: stops below the switch-over window, restarts above it, and has no alarm then") {
  InTime c = clock_at(compensated());
  at(c, 2.1 + 1e-9);
  CHECK(c.one_round().empty());
  at(c, 2.1 - 1e-9);
  CHECK(c.one_round() == Names{"clock stops"});
  CHECK(c.alarms[0] == never);
  for (const double v : {0.0, 2.15, 2.2 - 1e-9}) {
    at(c, v);
    CHECK(c.one_round().empty());
  }
  at(c, 2.2 + 1e-9);
  CHECK(c.one_round() == Names{"clock restarts"});
  CHECK(c.one_round().empty());
  c.run_to(some_day + 400 * ticks_per_day);
  CHECK(c.label("flag") == "clear");
  write(c, 1, 600);
  c.settle();
  CHECK(c.alarms[0] == c.now.utc + 600 * second);
}

TEST_CASE("clock: what is written while it stands is lost, also after it counts again") {
  InTime c = clock_at(compensated());
  at(c, 0);
  c.settle();
  write(c, 1, 600);
  CHECK(c.one_round() == Names{"alarm written"});
  CHECK(c.alarms[0] == never);
  at(c, 3.3);
  c.settle();
  CHECK(c.alarms[0] == never);
  write(c, 2, 600);
  c.settle();
  CHECK(c.alarms[0] == some_day + 600 * second);
}

TEST_CASE("clock: stopping lets the interrupt line go") {
  InTime c = clock_at(compensated());
  c.run_to(some_day + 3600 * second);
  CHECK(c.label("flag") == "set");
  at(c, 0);
  c.settle();
  CHECK(c.label("flag") == "clear");
  CHECK(relative_error(c.currents()[2], 0.1e-6 * 3.0 / 5) < 1e-12);
}

TEST_CASE("clock: when alarm, write and loss of supply meet in one instant, the loss has the last word") {
  InTime c = clock_at(compensated());
  c.now.utc = some_day + 3600 * second;
  write(c, 1, 600);
  at(c, 0);
  CHECK(c.one_round() == Names{"alarm", "alarm written", "clock stops"});
  CHECK(c.label("flag") == "clear");
  CHECK(c.alarms[0] == never);
  CHECK(c.one_round().empty());
}

TEST_CASE("clock: a span that starts without supply and coin cell starts with a clock that stands") {
  ClockParameters p = compensated();
  p.first_alarm = Duration{60.0};
  Alone c = build<Clock>(p);
  c.start(air(10));
  at(c, 0);
  InTime dead(c);
  dead.settle();
  CHECK(dead.next_alarm() == never);
}

TEST_CASE("clock (4): the interrupt pulls with its resistance while the flag is set, else it leaks") {
  InTime c = clock_at(compensated());
  for (const double line : {-1.0, 0.0, 0.4, 3.3}) {
    at(c, 3.3, line);
    CHECK(c.currents()[2] == doctest::Approx(line * 0.1e-6 / 5).epsilon(1e-12));
  }
  c.run_to(some_day + 3600 * second);
  for (const double line : {-1.0, 0.0, 0.4, 3.3}) {
    at(c, 3.3, line);
    CHECK(c.currents()[2] == doctest::Approx(line / 50).epsilon(1e-12));
    CHECK(c.currents()[0] == doctest::Approx(2e-6).epsilon(1e-12));
  }
}

TEST_CASE("clock: energy ledger") {
  InTime c = clock_at(compensated(clock_with_coin_cell()));
  CHECK(c.model->stored_energy(c.view()) == doctest::Approx(3.0 * 0.22 * 3600).epsilon(1e-15));
  CHECK(c.flow("consumption") == doctest::Approx(3.3 * 2e-6).epsilon(1e-12));
  CHECK(c.flow("interrupt") == doctest::Approx(9 * 0.1e-6 / 5).epsilon(1e-12));
  CHECK(c.flow("backup") == doctest::Approx(3.0 * 0.01 / 31556925.97 * 792).epsilon(1e-12));
  at(c, 0, 3.3);
  c.run_to(some_day + 3600 * second);
  CHECK(c.flow("consumption") == 0);
  CHECK(c.flow("interrupt") == doctest::Approx(3.3 * 3.3 / 50).epsilon(1e-12));
  CHECK(c.flow("backup") == doctest::Approx(3.0 * (1e-6 + 0.01 / 31556925.97 * 792)).epsilon(1e-12));
  CHECK(c.flow("backup_energy") == -c.flow("backup"));
}

TEST_CASE("clock: its pins never deliver power, whatever the coin cell does") {
  InTime c = clock_at(compensated(clock_with_coin_cell()));
  for (const bool pulling : {false, true}) {
    c.memory[Clock::flag] = pulling;
    for (double supply = -3; supply <= 6; supply += 0.05) {
      for (double line = -3; line <= 6; line += 0.5) {
        at(c, supply, line);
        const std::vector<double> f = c.currents();
        CHECK(c.z[0] * f[0] + c.z[1] * f[1] + c.z[2] * f[2] >= -1e-18);
        CHECK(c.flow("consumption") >= 0);
        CHECK(c.flow("interrupt") >= 0);
        CHECK(c.flow("backup") >= 0);
      }
    }
  }
}

TEST_CASE("clock: the first alarm is after the span's start, whose events nobody counts") {
  const Field& first = *Clock::describe().field("first_alarm");
  REQUIRE(first.minimum);
  CHECK(first.minimum->value == 1);
  CHECK(ClockParameters{}.first_alarm.si() >= first.minimum->value);
}

namespace {

/// Writes an interval of which `elapsed` seconds have passed.
void write_late(Alone& c, double writes, double interval, double elapsed) {
  Bus{writes, interval, 1, elapsed}.to(c.line.data());
}

InTime matching(AlarmMatch match, ClockParameters p = compensated()) {
  p.alarm_match = match;
  return clock_at(p);
}

}  // namespace

TEST_CASE("clock: the interval counts from before the write") {
  InTime c = matching(AlarmMatch::hours);
  write_late(c, 1, 600, 85.5);
  c.settle();
  CHECK(c.alarms[0] == some_day + 514'500'000'000);
  CHECK(c.output("alarm_shift") == 0);
  CHECK(c.happened.size() == 1);
  ClockParameters fast = compensated();  // 85.5 s are 85.5 (1 + d) of its own, the interval 600
  fast.drift = 1e-3;
  InTime f = clock_at(fast);
  write_late(f, 1, 600, 85.5);
  f.settle();
  CHECK(std::abs(static_cast<double>(f.alarms[0] - some_day) * 1e-9 - (600 / 1.001 - 85.5)) < 1e-8);
}

// The send took longer than the interval: the unit is silent until the registers match again, 24 h with hours compared.
TEST_CASE("clock: an alarm that is past when it is written comes at the next match, and says so once") {
  InTime c = matching(AlarmMatch::hours);
  write_late(c, 1, 60, 85);
  CHECK(c.one_round() == Names{"alarm written"});
  CHECK(c.label("flag") == "clear");
  CHECK(c.alarms[0] == some_day + ticks_per_day - 25 * second);
  CHECK(c.one_round() == Names{"alarm already past"});
  CHECK(c.one_round().empty());
  CHECK(c.event("alarm already past").role == EventRole::alarm_lost);
  CHECK(c.output("alarm_shift") == 86400);
  c.run_to(c.alarms[0]);
  CHECK(c.label("flag") == "set");
  write_late(c, 2, 60, 85);  // and again
  CHECK(c.one_round() == Names{"alarm written"});
  CHECK(c.one_round() == Names{"alarm already past"});
  write_late(c, 3, 600, 85);
  c.settle();
  CHECK(c.output("alarm_shift") == 0);
}

TEST_CASE("clock: an interval that is over on the tick is past") {
  InTime c = matching(AlarmMatch::minutes);
  write_late(c, 1, 60, 60);
  c.settle();
  CHECK(c.alarms[0] == some_day + 3600 * second);
  CHECK(c.happened.back().second == "alarm already past");
}

TEST_CASE("clock: with the year compared an alarm in the past never comes") {
  InTime c = matching(AlarmMatch::year);
  write_late(c, 1, 60, 85);
  c.settle();
  CHECK(c.alarms[0] == never);
  CHECK(c.happened.back().second == "alarm already past");
  CHECK(c.output("alarm_shift") > 60 * 365 * 86400.0);
  CHECK(ClockParameters{}.alarm_match == AlarmMatch::year);
}

TEST_CASE("clock: an alarm beyond the match's period comes early, and says so") {
  InTime c = matching(AlarmMatch::minutes);
  write_late(c, 1, 21600, 0);
  CHECK(c.one_round() == Names{"alarm written"});
  CHECK(c.alarms[0] == some_day + 3600 * second);
  CHECK(c.output("alarm_shift") == -18000);
  CHECK(c.one_round() == Names{"alarm before its time"});
  CHECK(c.one_round().empty());
  CHECK(c.event("alarm before its time").role == EventRole::none);
}

TEST_CASE("clock (1): a match's period is one of its own time") {
  ClockParameters slow = compensated();
  slow.drift = -100e-6;  // 8.64 s late a day
  InTime c = matching(AlarmMatch::hours, slow);
  write_late(c, 1, 60, 60 / (1 - 100e-6));  // past by nothing
  c.settle();
  CHECK(std::abs(static_cast<double>(c.alarms[0] - some_day) * 1e-9 - (86400 + 8.64)) < 0.001);
}

TEST_CASE("clock: the first alarm is set by whoever puts the instrument out, whatever is compared") {
  CHECK(matching(AlarmMatch::seconds).alarms[0] == some_day + 3600 * second);
}

TEST_CASE("clock: a write while it stands says nothing of the past") {
  InTime c = matching(AlarmMatch::hours);
  at(c, 0);
  c.settle();
  write_late(c, 1, 60, 85);
  c.settle();
  CHECK(c.happened.back().second == "alarm written");
}
