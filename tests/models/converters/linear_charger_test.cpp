#include "models/converters/linear_charger.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "models/ticks.hpp"
#include "tests/models/support/alone.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;

Alone charger(const LinearChargerParameters& p = charger_100ma()) {
  Alone c = build<LinearCharger>(p);
  c.start(Ambient{});
  return c;
}

/// Input and output against a ground pin that is not at zero.
void at(Alone& c, double in, double out) { c.z = {in + 0.2, out + 0.2, 0.2}; }

double charge(Alone& c, double in, double out) {
  at(c, in, out);
  return c.output("charge_current");
}

/// The supply current vanishes with the input: x/sqrt(x^2 + 0.3^2).
double standby_of(double in) { return 30e-6 * in / std::sqrt(in * in + 0.09); }
double awake_of(double in) { return 300e-6 * in / std::sqrt(in * in + 0.09); }

/// A charger that has just completed a charge at t = 0.
Alone completed() {
  Alone c = charger();
  at(c, 5, 4.2 - 0.0001);
  REQUIRE(c.round() == Names{"charge tapers"});
  c.fire("charge complete");
  return c;
}

}  // namespace

TEST_CASE("linear charger (2): constant current and pre-charge") {
  Alone c = charger();
  CHECK(relative_error(charge(c, 5, 3.7), 0.1) < 1e-9);
  CHECK(c.label("regime") == "constant current");
  at(c, 5, 2.801);
  CHECK(c.due().empty());
  at(c, 5, 2.8);
  CHECK(c.round() == Names{"pre-charge begins"});
  CHECK(relative_error(charge(c, 5, 2.8), 0.01) < 1e-9);
  CHECK(c.label("regime") == "pre-charge");
  at(c, 5, 2.899);
  CHECK(c.due().empty());
  at(c, 5, 2.9 + 1e-12);
  CHECK(c.round() == Names{"pre-charge ends"});
  CHECK(relative_error(charge(c, 5, 2.9), 0.1) < 1e-9);
  CHECK(c.due().empty());
}

TEST_CASE("linear charger (3): constant voltage") {
  Alone c = charger();
  CHECK(relative_error(charge(c, 5, 4.2 - 0.001), 0.05) < 1e-6);  // 1 mV over 20 mohm
  CHECK(c.label("regime") == "constant voltage");
  CHECK(charge(c, 5, 4.2) == 0);
  CHECK(charge(c, 5, 4.3) == 0);
}

TEST_CASE("linear charger (4): drop-out") {
  Alone c = charger();
  // 5 mV of the headroom beyond the wake-up threshold go into the rounded corner.
  CHECK(relative_error(charge(c, 3.7 + 0.1 + 0.005 + 0.04, 3.7), 0.05) < 1e-6);
  CHECK(c.label("regime") == "drop-out");
  CHECK(charge(c, 3.7 + 0.1, 3.7) == 0);
  CHECK(c.label("regime") == "asleep");
  CHECK(charge(c, 3.7, 3.7) == 0);
  CHECK(charge(c, 3.0, 3.7) == 0);
}

TEST_CASE("linear charger (1): the corner between two equal limits is 2 % low, between three 3.4 %") {
  Alone c = charger();
  CHECK(charge(c, 5, 4.2 - 0.002) == doctest::Approx(0.1 * std::pow(2, -1 / 32.0)).epsilon(1e-9));
  CHECK(charge(c, 4.198 + 0.1 + 0.005 + 0.08, 4.198) == doctest::Approx(0.1 * std::pow(3, -1 / 32.0)).epsilon(1e-9));
}

TEST_CASE("linear charger: nothing flows out of the input lockout") {
  Alone c = charger();
  CHECK(charge(c, 3.25, 2.95) == 0);
  CHECK(c.label("regime") == "asleep");
  CHECK(relative_error(c.currents()[0], standby_of(3.25)) < 1e-12);
  CHECK(charge(c, 3.3, 2.95) > 0);
  CHECK(relative_error(charge(c, 3.4, 2.95), 0.1) < 1e-6);
}

TEST_CASE("linear charger (5): own consumption asleep, in between, awake, and with the input reversed") {
  Alone c = charger();
  at(c, 4, 4.0 - 0.03);
  CHECK(relative_error(c.currents()[0], standby_of(4)) < 1e-12);
  at(c, 4, 4.0 - 0.065);  // the middle of the window from 30 to 100 mV
  CHECK(relative_error(c.currents()[0], (standby_of(4) + awake_of(4)) / 2) < 1e-9);
  at(c, 4, 4.0 - 0.1);
  CHECK(relative_error(c.currents()[0], awake_of(4)) < 1e-9);
  at(c, 0, 3.7);
  CHECK(c.currents()[0] == doctest::Approx(0).scale(1e-6));
  at(c, -4, 3.7);
  CHECK(relative_error(c.currents()[0], -standby_of(4)) < 1e-12);
}

TEST_CASE("linear charger (6): reverse leakage out of the cell, day and night") {
  Alone c = charger();
  for (const double in : {0.0, 3.0, 3.7}) {
    at(c, in, 3.7);
    CHECK(relative_error(c.currents()[1], 2e-6 * 3.7 / 4.2) < 1e-12);
  }
  at(c, 5, 3.7);
  CHECK(relative_error(c.currents()[1], 2e-6 * 3.7 / 4.2 - c.output("charge_current")) < 1e-12);
}

TEST_CASE("linear charger: completion needs constant voltage, the termination current and a full headroom") {
  Alone c = charger();
  at(c, 5, 4.2 - 0.00021);  // 10.5 mA
  CHECK_FALSE(c.due("charge tapers"));
  at(c, 5, 4.2 - 0.00019);  // 9.5 mA
  CHECK(c.due("charge tapers"));
  at(c, 4.1998 + 0.1 + 0.005 + 0.004, 4.1998 + 0.00001);  // weak light gives 5 mA where the regulator would give 9.5
  CHECK_FALSE(c.due("charge tapers"));
  at(c, 4.2 + 0.05, 4.2);
  CHECK_FALSE(c.due("charge tapers"));
}

TEST_CASE("linear charger: a current that rises again within the delay, or a block, keeps the charge going") {
  Alone c = charger();
  at(c, 5, 4.2 - 0.0001);
  CHECK(c.round() == Names{"charge tapers"});
  CHECK(c.alarms[1] == ticks(Duration{0.025}));
  at(c, 5, 4.2 - 0.00021);  // 10.5 mA, within the hysteresis of 1 mA
  CHECK(c.round().empty());
  at(c, 5, 4.2 - 0.00023);
  CHECK(c.round() == Names{"charge goes on"});
  CHECK(c.alarms[1] == never);
  at(c, 5, 4.2 - 0.0001);
  CHECK(c.round() == Names{"charge tapers"});
  c.line[0] = celsius(-5).si();
  CHECK(c.round() == Names{"too cold"});
  CHECK(c.round() == Names{"charge goes on"});
  CHECK(c.alarms[1] == never);
}

TEST_CASE("linear charger: complete, held, recharge") {
  Alone c = completed();
  CHECK(c.alarms[0] == ticks_per_second);
  CHECK(c.label("regime") == "complete");
  CHECK(charge(c, 5, 3.9) == 0);
  CHECK(c.due().empty());  // far below the recharge voltage, but too early
  c.now.utc = c.alarms[0];
  c.fire("recharge armed");
  CHECK(c.alarms[0] == never);
  at(c, 5, 4.051);
  CHECK(c.due().empty());
  at(c, 5, 4.05);
  CHECK(c.round() == Names{"recharge"});
  CHECK(relative_error(charge(c, 5, 4.05), 0.1) < 1e-9);
  CHECK(c.due().empty());
}

TEST_CASE("linear charger: the next light starts a new charge") {
  Alone c = completed();
  at(c, 4.15 + 0.031, 4.15);
  CHECK(c.due().empty());
  at(c, 4.15 + 0.029, 4.15);
  CHECK(c.round() == Names{"input gone"});
  CHECK(c.label("regime") == "asleep");
  CHECK(relative_error(charge(c, 5, 4.15), 0.1) < 1e-9);
  CHECK(c.label("regime") == "constant current");
  CHECK(c.alarms[0] == ticks_per_second);
}

TEST_CASE("linear charger: cold and heat stop it, with hysteresis") {
  Alone c = charger();
  at(c, 5, 3.7);
  const auto temperature = [&](double degrees) { c.line[0] = celsius(degrees).si(); };
  temperature(0.01);
  CHECK(c.due().empty());
  temperature(0);
  CHECK(c.round() == Names{"too cold"});
  CHECK(charge(c, 5, 3.7) == 0);
  CHECK(c.label("regime") == "too cold");
  CHECK(c.due().empty());
  temperature(2.9);
  CHECK(c.due().empty());
  temperature(3.01);
  CHECK(c.round() == Names{"warm enough"});
  CHECK(relative_error(charge(c, 5, 3.7), 0.1) < 1e-9);
  temperature(45);
  CHECK(c.round() == Names{"too hot"});
  CHECK(charge(c, 5, 3.7) == 0);
  CHECK(c.label("regime") == "too hot");
  temperature(42.1);
  CHECK(c.due().empty());
  temperature(41.9);
  CHECK(c.round() == Names{"cool enough"});
  CHECK(relative_error(charge(c, 5, 3.7), 0.1) < 1e-9);
}

TEST_CASE("linear charger: a jump over the whole window ends in the other block") {
  Alone c = charger();
  at(c, 5, 3.7);
  for (const double degrees : {50.0, -5.0, 60.0, -20.0}) {
    c.line[0] = celsius(degrees).si();
    c.round();
    CHECK(c.label("regime") == (degrees > 0 ? "too hot" : "too cold"));
    CHECK(c.due().empty());
  }
}

TEST_CASE("linear charger: without a temperature line neither cold nor heat is due") {
  Alone c = charger();
  at(c, 5, 3.7);
  for (const char* name : {"too cold", "warm enough", "too hot", "cool enough"}) CHECK_FALSE(c.due(name));
}

TEST_CASE("linear charger: pre-charge, completion and temperature block are independent") {
  Alone c = charger();
  c.line[0] = celsius(-5).si();
  at(c, 5, 2.5);
  Names due = c.round();
  CHECK(due == Names{"pre-charge begins", "too cold"});
  CHECK(charge(c, 5, 2.5) == 0);
  at(c, 5, 4.2 - 0.0001);
  CHECK(c.round() == Names{"pre-charge ends"});  // no completion while it is too cold
  c.line[0] = celsius(20).si();
  CHECK(c.round() == Names{"warm enough"});
  CHECK(c.round() == Names{"charge tapers"});
  c.fire("charge complete");
  c.line[0] = celsius(-5).si();
  CHECK(c.round() == Names{"too cold"});
  CHECK(c.label("regime") == "too cold");
  at(c, 4.0, 4.1);
  CHECK(c.round() == Names{"input gone"});
  CHECK(c.label("regime") == "asleep");
  c.line[0] = celsius(20).si();
  c.round();
  CHECK(relative_error(charge(c, 5, 3.7), 0.1) < 1e-9);
}

TEST_CASE("linear charger: a completed one asks for pre-charge and recharge at once after a deep discharge") {
  Alone c = completed();
  c.fire("recharge armed");
  at(c, 5, 2.5);
  const Names due = c.round();
  CHECK(due == Names{"pre-charge begins", "recharge"});
  CHECK(relative_error(charge(c, 5, 2.5), 0.01) < 1e-9);
}

TEST_CASE("linear charger: an input lockout above the cell does not pass for completion") {
  LinearChargerParameters p = charger_100ma();
  p.input_minimum = Voltage{5.0};
  Alone c = charger(p);
  at(c, 4.5, 4.21);
  CHECK(c.label("regime") == "asleep");
  CHECK_FALSE(c.due("charge tapers"));
  at(c, 5.5, 4.21);
  CHECK(c.due("charge tapers"));
}

TEST_CASE("linear charger: the current never falls as headroom grows or rises as the cell fills") {
  Alone c = charger();
  double before = -1;
  for (double in = 3.0; in < 6; in += 0.001) {
    const double i = charge(c, in, 3.6);
    CHECK(i >= before);
    before = i;
  }
  before = 1;
  for (double out = 3.0; out < 4.4; out += 0.0001) {
    const double i = charge(c, 6, out);
    CHECK(i <= before);
    before = i;
  }
}

TEST_CASE("linear charger: findings") {
  const auto fault = [](auto change) {
    LinearChargerParameters p = charger_100ma();
    change(p);
    const Names keys = refused<LinearCharger>(p);
    return keys.size() == 1 ? keys[0] : std::to_string(keys.size()) + " findings";
  };
  using P = LinearChargerParameters;
  CHECK(fault([](P& p) { p.precharge_current = Current{0.2}; }) == "precharge_current");
  CHECK(fault([](P& p) { p.termination_current = p.charge_current; }) == "termination_current");
  CHECK(fault([](P& p) { p.precharge_voltage = p.charge_voltage; }) == "precharge_voltage");
  CHECK(fault([](P& p) { p.precharge_hysteresis = p.precharge_voltage; }) == "precharge_hysteresis");
  CHECK(fault([](P& p) { p.recharge_voltage = p.charge_voltage; }) == "recharge_voltage");
  CHECK(fault([](P& p) { p.sleep_headroom = p.wake_headroom; }) == "wake_headroom");
  CHECK(fault([](P& p) { p.input_hysteresis = p.input_minimum; }) == "input_hysteresis");
  CHECK(fault([](P& p) { p.standby_current = Current{1e-3}; }) == "standby_current");
  CHECK(fault([](P& p) { p.hot_limit = celsius(5); }) == "hot_limit");
}

TEST_CASE("linear charger: stuck off it does not charge, and finds no cell full") {
  Alone c = charger(faulty<LinearCharger>(charger_100ma(), "stuck-off"));
  for (const double out : {2.0, 3.7, 4.2}) {
    CHECK(charge(c, 6, out) == 0);
    CHECK(c.label("regime") == "asleep");
    CHECK(c.flow("supply") == doctest::Approx(6 * awake_of(6)));
  }
  CHECK(c.due().empty());
}

TEST_CASE("linear charger: stuck on it knows neither end nor limits") {
  Alone c = completed();
  c.line = {celsius(-20).si()};
  c.round();
  REQUIRE(charge(c, 6, 4.2) == 0);
  const double leak = c.flow("reverse");
  c.goes_on(build<LinearCharger>(faulty<LinearCharger>(charger_100ma(), "stuck-on")).model);
  CHECK(relative_error(charge(c, 6, 4.2), 0.1) < 1e-9);
  CHECK(relative_error(charge(c, 7, 5.2), 0.1) < 1e-9);
  CHECK(relative_error(charge(c, 6, 2.0), 0.1) < 1e-9);
  CHECK(c.due() == Names{"pre-charge begins"});  // which changes nothing any more
  at(c, 6, 4.2);
  CHECK(c.flow("reverse") == doctest::Approx(leak));
}
