#include "models/storage/capacitor.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/capacitor_examples.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;

enum Regime { fed, charging, settling, discharging, idle };
constexpr double farad = 470e-6, series = 0.15, band = 0.02;

Alone capacitor(const CapacitorParameters& p = electrolytic_470uf()) {
  Alone c = build<Capacitor>(p);
  c.start(Ambient{});
  return c;
}

Alone leaking() {
  CapacitorParameters p = electrolytic_470uf();
  p.insulation_time = Duration{1000.0};
  return capacitor(p);
}

/// The net's voltage against a minus pin that is not at zero.
void at(Alone& c, double volts) { c.z = {volts + 0.3, 0.3}; }
double into(const Alone& c) { return c.currents()[0]; }

/// Charged to x, in a regime.
Alone charged(double x, Regime regime, Alone c = capacitor()) {
  c.x[0] = x;
  c.memory[0] = regime;
  at(c, x);
  return c;
}

/// The net where what the rest of it takes (rising with the voltage) meets what the capacitor gives.
void balance(Alone& c, const std::function<double(double)>& taken) {
  double low = -10, high = 10;
  for (int i = 0; i < 200; ++i) {
    at(c, (low + high) / 2);
    (into(c) + taken((low + high) / 2) < 0 ? low : high) = (low + high) / 2;
  }
}

std::function<double(double)> ohm(double r) {
  return [r](double v) { return v / r; };
}
/// A rail held by a stiff regulator.
std::function<double(double)> stiff(double volts) {
  return [volts](double v) { return (v - volts) / 1e-6; };
}
std::function<double(double)> nothing() {
  return [](double) { return 0.0; };
}

/// Fourth-order Runge-Kutta in the network that `taken` stands for; adds the flows' integrals.
void pass(Alone& c, const std::function<double(double)>& taken, double seconds, int steps,
          std::vector<double>* energy = nullptr) {
  const double h = seconds / steps;
  const auto slope = [&](const std::vector<double>& x, std::vector<double>& flow) {
    Alone there = c;
    there.x = x;
    balance(there, taken);
    flow = there.flows();
    return there.rates();
  };
  const auto moved = [](std::vector<double> x, const std::vector<double>& k, double by) {
    for (std::size_t i = 0; i < x.size(); ++i) x[i] += by * k[i];
    return x;
  };
  for (int i = 0; i < steps; ++i) {
    std::vector<double> f1, f2, f3, f4;
    const std::vector<double> k1 = slope(c.x, f1), k2 = slope(moved(c.x, k1, h / 2), f2),
                              k3 = slope(moved(c.x, k2, h / 2), f3), k4 = slope(moved(c.x, k3, h), f4);
    for (std::size_t j = 0; j < c.x.size(); ++j) c.x[j] += h / 6 * (k1[j] + 2 * k2[j] + 2 * k3[j] + k4[j]);
    for (std::size_t j = 0; energy && j < f1.size(); ++j)
      (*energy)[j] += h / 6 * (f1[j] + 2 * f2[j] + 2 * f3[j] + f4[j]);
  }
  c.now.utc += static_cast<Tick>(seconds * ticks_per_second);
  balance(c, taken);
}

}  // namespace

TEST_CASE("capacitor: it begins empty and fed") {
  const Alone c = capacitor();
  CHECK(c.x == std::vector<double>{0, 0});
  CHECK(c.label("regime") == "fed");
  CHECK(c.alarms[0] == never);
}

TEST_CASE("capacitor: fed, it takes nothing within the tracking band but its leakage") {
  Alone c = charged(5, fed);
  for (const double v : {4.981, 5.0, 5.019}) {
    at(c, v);
    CHECK(into(c) == 0);
    CHECK(c.rates()[0] == 0);
    CHECK(c.due().empty());
  }
  Alone leaky = charged(5, fed, leaking());
  at(leaky, 5.01);
  CHECK(relative_error(into(leaky), 5.01 / (1000 / farad)) < 1e-12);  // (3): Rleak = 1000 ohm F / C
  CHECK(relative_error(leaky.flow("leakage"), 5.01 * into(leaky)) < 1e-12);
  CHECK(leaky.rates()[0] == 0);
}

TEST_CASE("capacitor (2), (5): switched on to a stiff rail it draws C V, half of the energy is lost") {
  // Textbook: charging a capacitor from a stiff source through any resistance.
  Alone c = capacitor();
  balance(c, stiff(5));
  CHECK(c.round() == Names{"charges"});
  CHECK(c.label("regime") == "charging");
  CHECK(relative_error(c.x[1], farad * 5 / 0.1) < 1e-6);
  CHECK(c.alarms[0] == ticks_per_second / 10);
  std::vector<double> energy(3);
  pass(c, stiff(5), 0.1, 20000, &energy);
  CHECK(std::abs(c.x[0] - 5) < band / 20);  // it ends where it meets the net
  const double charge = farad * c.x[0];
  CHECK(relative_error(charge, farad * 5) < 2e-4);
  CHECK(relative_error(energy[0] + energy[1], charge * 5) < 1e-6);
  CHECK(relative_error(energy[0], farad * 25 / 2) < 4e-4);
  CHECK(relative_error(energy[1], farad * 25 / 2) < 4e-4);
  CHECK(relative_error(c.model->stored_energy(c.view()), energy[0]) < 1e-6);  // (6)
  CHECK(c.due().empty());
  c.fire("charging over");
  CHECK(c.label("regime") == "fed");
  CHECK(c.alarms[0] == never);
  CHECK(c.x[1] == 0);
  CHECK(c.due().empty());
}

TEST_CASE("capacitor (2): charging ends where store and net meet; it never turns round") {
  Alone c = charged(5, charging);
  for (const double current : {0.02, -0.02}) {
    c.x[1] = current;
    const double sign = current > 0 ? 1 : -1;
    at(c, 5 + sign * band / 20);
    CHECK(into(c) == current);
    at(c, 5 + sign * band / 40);
    CHECK(relative_error(into(c), current / 2) < 1e-9);
    for (const double beyond : {0.0, 0.01, 0.07}) {
      at(c, 5 - sign * beyond);
      CHECK(into(c) == 0);
    }
  }
}

TEST_CASE("capacitor: a small fall gives charge back, then the net must stand for a charging time") {
  Alone c = charged(5, fed);
  balance(c, stiff(4.97));
  CHECK(c.round() == Names{"gives back"});
  CHECK(relative_error(c.x[1], -farad * 0.03 / 0.1) < 1e-6);
  balance(c, stiff(4.97));
  CHECK(into(c) < 0);
  pass(c, stiff(4.97), 0.1, 20000);
  CHECK(std::abs(c.x[0] - 4.97) < band / 20);
  c.fire("charging over");
  CHECK(c.label("regime") == "settling");
  CHECK(c.alarms[0] == c.now.utc + ticks_per_second / 10);
  balance(c, stiff(4.97));
  CHECK(c.due().empty());
  c.now.utc = c.alarms[0];
  c.fire("charging over");
  CHECK(c.label("regime") == "fed");
  CHECK(c.alarms[0] == never);
}

TEST_CASE("capacitor (1): a net that loses its feed falls by four bands, not to nothing, and then stands at x") {
  Alone c = charged(5, fed);
  balance(c, ohm(250));
  CHECK(c.z[0] - c.z[1] == doctest::Approx(5 - 4 * band).epsilon(1e-3));
  CHECK(c.round() == Names{"holds"});
  CHECK(c.label("regime") == "discharging");
  balance(c, ohm(250));
  CHECK(c.z[0] - c.z[1] == doctest::Approx((5 - 1e-4) * 250 / (250 + series)).epsilon(1e-9));
  CHECK(c.due().empty());

  Alone half = charged(5, charging);  // and in the middle of charging
  half.x[1] = 0.02;
  half.alarms[0] = 99;
  balance(half, ohm(250));
  CHECK(half.round() == Names{"holds"});
  CHECK(half.alarms[0] == never);
  CHECK(half.x[1] == 0);
}

TEST_CASE("capacitor (1), (5): discharge through a resistor") {
  // Closed form x0 exp(-t / ((R + Resr) C)), textbook; 1e-4 because 0.1 mV go into the rounded corner.
  const double r = 10, tau = (r + series) * farad;
  Alone c = charged(5, discharging);
  std::vector<double> energy(3);
  pass(c, ohm(r), 2 * tau, 400, &energy);
  CHECK(relative_error(c.x[0], 5 * std::exp(-2.0)) < 2e-4);
  CHECK(relative_error(-energy[0], farad / 2 * 25 * (1 - std::exp(-4.0))) < 1e-4);
  CHECK(relative_error(energy[1], -energy[0] * series / (r + series)) < 1e-2);  // the corner's 0.1 mV
  CHECK(energy[2] == 0);
}

TEST_CASE("capacitor (5): 470 uF at 5 V with 1 uA last 40 minutes") {
  // engine.md section 2; in closed form C V / I = 2350 s.
  Alone c = charged(5, discharging);
  balance(c, [](double v) { return std::clamp(v * 1e-3, -1e-6, 1e-6); });  // 1 uA down to 1 mV
  CHECK(relative_error(c.rates()[0], -1e-6 / farad) < 1e-9);
  pass(
      c, [](double v) { return std::clamp(v * 1e-3, -1e-6, 1e-6); }, 2349, 300);
  CHECK(c.x[0] == doctest::Approx(5 - 2349e-6 / farad).epsilon(1e-6));
  CHECK(c.x[0] < 0.003);
}

TEST_CASE("capacitor (3): unfed, the leakage empties the store from within") {
  Alone c = charged(5, idle, leaking());
  std::vector<double> energy(3);
  pass(c, nothing(), 500, 50, &energy);
  CHECK(relative_error(c.x[0], 5 * std::exp(-0.5)) < 1e-4);
  CHECK(relative_error(energy[2], farad / 2 * (25 - c.x[0] * c.x[0])) < 1e-4);
  CHECK(std::abs(into(c)) < 1e-15);
}

TEST_CASE("capacitor: unfed it never takes, so a returning feed sees no short circuit") {
  for (const Regime regime : {discharging, idle}) {
    Alone c = charged(1, regime);
    for (const double v : {1.0, 1.001, 3.0, 5.0}) {
      at(c, v);
      CHECK(into(c) == 0);
    }
    CHECK(c.due("charges"));
    c.round();
    CHECK(c.label("regime") == "charging");
    CHECK(relative_error(c.x[1], farad * 4 / 0.1) < 1e-12);
    Alone close = charged(1, regime);
    at(close, 1.0019);
    CHECK_FALSE(close.due("charges"));
  }
}

TEST_CASE("capacitor: a net that stands again a little lower is fed after a charging time") {
  Alone c = charged(5, discharging);
  balance(c, stiff(4.97));
  CHECK(c.due().empty());
  pass(c, stiff(4.97), 0.05, 2000);
  CHECK(c.round() == Names{"settles"});
  CHECK(c.label("regime") == "settling");
  CHECK(c.alarms[0] == c.now.utc + ticks_per_second / 10);
  balance(c, stiff(4.97));
  CHECK(c.due().empty());
  c.fire("charging over");
  CHECK(c.label("regime") == "fed");
}

TEST_CASE("capacitor: a net at rest is not taken for a fed one, however often it is looked at") {
  Alone c = charged(0.05, discharging);
  balance(c, ohm(50e6));  // 1 nA
  CHECK(c.round() == Names{"settles"});
  balance(c, ohm(50e6));  // the net would fall by itself
  CHECK(c.round() == Names{"not fed"});
  CHECK(c.label("regime") == "idle");
  CHECK(c.alarms[0] == never);
  balance(c, ohm(50e6));
  CHECK(c.due().empty());
  balance(c, ohm(1e6));  // 50 nA: the load wakes
  CHECK(c.round() == Names{"drawn again"});
  CHECK(c.label("regime") == "discharging");
  balance(c, ohm(1e6));
  CHECK(c.due().empty());
}

TEST_CASE("capacitor: a feed that is lost near zero ends in rest without chatter") {
  // Between one and four bands charge is given back once; then the net does not stand.
  Alone c = charged(0.05, fed);
  balance(c, ohm(1e5));
  CHECK(c.round() == Names{"gives back"});
  pass(c, ohm(1e5), 0.1, 2000);
  c.fire("charging over");
  balance(c, ohm(1e5));
  CHECK(c.round() == Names{"not fed"});
  balance(c, ohm(1e5));
  CHECK(c.round() == Names{"drawn again"});
  balance(c, ohm(1e5));
  CHECK(c.due().empty());
}

TEST_CASE("capacitor: of a settled net that rises, the charging stands") {
  Alone c = charged(5, discharging);
  at(c, 5.01);
  CHECK(c.round() == Names{"settles", "charges"});
  CHECK(c.label("regime") == "charging");
  Alone settled = charged(5, settling);
  at(settled, 5.021);
  CHECK(settled.round() == Names{"charges"});
}

TEST_CASE("capacitor: all its events belong to every wake") {
  for (const Event& e : Capacitor::describe().events) {
    CAPTURE(e.name);
    CHECK(e.routine);
    CHECK(e.role == EventRole::none);
  }
}

TEST_CASE("capacitor: leakage is given once") {
  CapacitorParameters p = electrolytic_470uf();
  p.leakage_resistance = Resistance{2e6};
  Alone c = charged(5, fed, capacitor(p));
  CHECK(relative_error(into(c), 2.5e-6) < 1e-9);
  p.insulation_time = Duration{1000.0};
  CHECK(refused<Capacitor>(p) == Names{"insulation_time"});
}
