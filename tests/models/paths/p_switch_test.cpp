#include "models/paths/p_switch.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/p_switch_examples.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

/// Source at 6 V, with this gate drive and drop.
void at(Alone& a, double drive, double drop) { a.z = {6, 6 - drop, 6 - drive}; }

/// Source to drain at a drop of 10 mV, without the leakage.
double resistance(Alone& a, double drive, double leakage = 1e-6 / 20) {
  at(a, drive, 0.01);
  return 1 / (a.output("current") / 0.01 - leakage);
}

}  // namespace

TEST_CASE("p-switch (2): the datasheet's on-resistances, between them and beyond") {
  Alone a = build<PSwitch>(logic_switch());
  CHECK(relative_error(resistance(a, 2.5), 0.042) < 1e-6);
  CHECK(relative_error(resistance(a, 4.5), 0.030) < 1e-6);
  CHECK(relative_error(resistance(a, 8), 0.026) < 1e-6);
  CHECK(relative_error(resistance(a, 20), 0.026) < 1e-6);
  CHECK(resistance(a, 3.3) < 0.042);
  CHECK(resistance(a, 3.3) > 0.030);
}

TEST_CASE("p-switch (3), (4): below full drive by hand, down to the datasheet's threshold and beneath") {
  // U0 from ln(1+e^((0.8-U0)/w)) / ln(1+e^((2.5-U0)/w)) = 0.042 * 250e-6 / 0.8 with w = 1.5 * 25.692579 mV, solved to
  // fourteen digits by bisection in another language.
  const double w = 1.5 * 0.025692579, u0 = 1.09460443151903;
  const auto by_hand = [&](double u) {
    return 0.042 * std::log1p(std::exp((2.5 - u0) / w)) / std::log1p(std::exp((u - u0) / w));
  };
  Alone a = build<PSwitch>(logic_switch());
  CHECK(relative_error(resistance(a, 0.8), 0.8 / 250e-6) < 1e-6);
  for (const double u : {0.7, 0.85, 1.0, 1.1, 1.3, 1.7, 2.2})
    CHECK(relative_error(resistance(a, u), by_hand(u)) < 1e-3);
  at(a, 0.8, 0.8);  // gate and drain tied
  CHECK(relative_error(a.output("current"), 250e-6) < 1e-3);
  // Weak inversion: e-fold per w, 89 mV per decade.
  CHECK(relative_error(std::log(resistance(a, 0.5, 5e-8) / resistance(a, 0.6, 5e-8)), 0.1 / w) < 0.02);
}

TEST_CASE("p-switch (2), (3): resistance never rises with the gate drive, and no corner at full drive") {
  for (const PSwitchParameters& p : {logic_switch(), standard_switch()}) {
    Alone a = build<PSwitch>(p);
    double before = -1;
    for (double u = -3; u < 14; u += 0.003) {
      at(a, u, 1);
      const double i = a.output("current");
      CHECK(i >= before);
      before = i;
    }
    const double full = p.on_resistance.x().front(), h = 1e-5;
    const double left = (resistance(a, full) - resistance(a, full - h)) / h;
    const double right = (resistance(a, full + h) - resistance(a, full)) / h;
    CHECK(relative_error(left, right) < 1e-2);
  }
}

TEST_CASE("p-switch: conduction loss is I^2 Rds(on)") {
  // Erickson & Maksimovic, Fundamentals of Power Electronics, 2nd ed. 2001, ch. 3: a MOSFET that is on is a resistor.
  Alone a = build<PSwitch>(logic_switch());
  const double i = 0.5;
  at(a, 4.5, i * 0.030);
  CHECK(relative_error(a.output("current"), i) < 1e-5);
  CHECK(relative_error(a.flow("channel"), i * i * 0.030) < 1e-5);
  CHECK(relative_error(a.output("voltage_drop"), 0.015) < 1e-9);
  CHECK(a.flow("body_diode") < 1e-9);
  CHECK(a.label("conducting") == "on");
}

TEST_CASE("p-switch (5): off, only the leakage of the datasheet flows") {
  Alone a = build<PSwitch>(logic_switch());
  at(a, 0, 20);
  CHECK(relative_error(a.output("current"), 1e-6) < 0.01);
  CHECK(a.label("conducting") == "off");
  at(a, 0.3 * 0.8, 20);  // common practice: below 0.3 of the threshold a gate counts as off
  CHECK(relative_error(a.output("current"), 1e-6) < 0.01);
}

TEST_CASE("p-switch (1): the body diode feeds back from drain to source") {
  Alone a = build<PSwitch>(logic_switch());
  at(a, 0, -0.85);
  const double diode = BodyDiode(Voltage{0.75}, Resistance{0.05})(0.85);
  CHECK(diode > 1);
  CHECK(relative_error(a.output("current"), -diode - 0.85 * 1e-6 / 20) < 1e-6);
  CHECK(relative_error(a.flow("body_diode"), 0.85 * diode) < 1e-9);
  // On, the channel carries it at a lower drop than the diode could.
  at(a, 4.5, -0.03);
  CHECK(relative_error(a.output("current"), -1) < 1e-5);
}

TEST_CASE("p-switch (6): pull-up and leakage of the gate") {
  Alone a = build<PSwitch>(logic_switch());
  at(a, 3.7, 0);
  CHECK(relative_error(-a.currents()[2], 3.7 * (1e-6 + 100e-9 / 8)) < 1e-12);
  CHECK(relative_error(a.flow("gate"), 3.7 * 3.7 * (1e-6 + 100e-9 / 8)) < 1e-12);
  Alone bare = build<PSwitch>(standard_switch());
  at(bare, 3.7, 0);
  CHECK(relative_error(-bare.currents()[2], 3.7 * 100e-9 / 8) < 1e-12);
}

TEST_CASE("p-switch: a microampere through a pull-up of a megohm turns it on in part") {
  // Common practice: gate drive = leakage of what holds the gate times pull-up, here 1 uA * 1 Mohm = 1 V.
  PSwitchParameters p = logic_switch();
  p.gate_leakage = Current{1e-12};
  Alone a = build<PSwitch>(p);
  at(a, 1.0, 3);
  CHECK(relative_error(-a.currents()[2], 1e-6) < 1e-5);
  CHECK(a.label("conducting") == "half driven");
  CHECK(a.due("half driven"));
  const double ohms = resistance(a, 1.0);
  CHECK(ohms > 1);
  CHECK(ohms < 1000);
}

TEST_CASE("p-switch: a source at 6 V is not turned off by a gate lifted to 3 V") {
  // Common practice: what drives the gate must reach the source's voltage, else a level stage is needed.
  Alone logic = build<PSwitch>(logic_switch());
  logic.z = {6, 5.9, 3};
  CHECK(logic.label("conducting") == "on");
  CHECK(logic.due("switched on"));
  Alone standard = build<PSwitch>(standard_switch());
  standard.z = {6, 0, 3};
  CHECK(standard.label("conducting") == "half driven");
  CHECK(standard.due("half driven"));
  const double ohms = resistance(standard, 3, 1e-6 / 24);
  CHECK(ohms > 2 * 0.120);
  CHECK(ohms < 100);
  standard.z = {6, 0, 6};
  CHECK(standard.label("conducting") == "off");
}

TEST_CASE("p-switch: its events only mark, and an ordinary switching does not pass for half driven") {
  Alone a = build<PSwitch>(logic_switch());
  CHECK(a.table.memories == 0);
  CHECK(a.event("switched on").routine);
  CHECK(a.event("switched on").load_step);
  CHECK_FALSE(a.event("half driven").routine);
  for (const Event& e : a.table.events) CHECK_FALSE(static_cast<bool>(e.reset));
  at(a, 0, 6);
  CHECK(a.due().empty());
  at(a, 3.7, 0.01);
  CHECK(a.due() == std::vector<std::string>{"switched on"});
  at(a, 2.4, 0.01);  // a supply that sinks with its load
  CHECK(a.due().empty());
  at(a, 1.2, 0.3);
  CHECK(a.due() == std::vector<std::string>{"half driven"});
}

TEST_CASE("p-switch: findings") {
  PSwitchParameters p = logic_switch();
  p.on_resistance = Curve({2.5, 4.5}, {0.030, 0.042}, Interpolation::monotone, Outside::hold);
  CHECK(refused<PSwitch>(p) == std::vector<std::string>{"on_resistance"});
  p = logic_switch();
  p.threshold = Voltage{2.5};
  CHECK(refused<PSwitch>(p) == std::vector<std::string>{"threshold"});
  p.threshold = Voltage{2.3};  // five decades within 200 mV
  CHECK(refused<PSwitch>(p) == std::vector<std::string>{"threshold"});
  p = logic_switch();
  p.threshold_current = Current{30.0};  // more than the full drive would carry
  CHECK(refused<PSwitch>(p) == std::vector<std::string>{"threshold"});
  p = logic_switch();
  p.on_resistance = Curve({2.5}, {0.042}, Interpolation::monotone, Outside::hold);
  Alone one = build<PSwitch>(p);
  CHECK(relative_error(resistance(one, 2.5), 0.042) < 1e-6);
  CHECK(relative_error(resistance(one, 5), 0.042) < 1e-6);
}

TEST_CASE("p-switch: stuck, it does not heed its gate, which draws what it drew") {
  Alone free = build<PSwitch>(logic_switch()), on = build<PSwitch>(faulty<PSwitch>(logic_switch(), "stuck-on")),
        off = build<PSwitch>(faulty<PSwitch>(logic_switch(), "stuck-off"));
  for (const double drive : {-1.0, 0.0, 1.2, 5.0}) {
    CHECK(relative_error(resistance(on, drive), 0.026) < 1e-9);
    CHECK(on.label("conducting") == "on");
    at(off, drive, 4);
    at(free, drive, 4);
    CHECK(off.output("current") == doctest::Approx(4 * 1e-6 / 20).epsilon(1e-3));  // and the diode, backwards
    CHECK(off.label("conducting") == "off");
    CHECK(off.currents()[2] == free.currents()[2]);
    CHECK(!off.due("half driven"));
    CHECK(!on.due("half driven"));
  }
  at(off, 0, -2);
  CHECK(off.output("current") < -1);  // the body diode
}
