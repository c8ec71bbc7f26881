#include "models/converters/boost.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/boost_examples.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/random.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;

enum Mode { off, locked_out, waiting, starting, on, stressed };
enum Alarm { retry, soft_start };
constexpr Tick some_start = 1'731'000'000 * ticks_per_second;

Alone boost(const BoostParameters& p = boost_5v()) {
  Alone b = build<Boost>(p);
  b.start(Ambient{});
  return b;
}

/// Input and output against a ground pin that is not at zero.
void at(Alone& b, double in, double out) { b.z = {in + 0.2, out + 0.2, 0.2}; }

double into(const Alone& b) { return b.currents()[0]; }
double driven(const Alone& b) { return -b.currents()[1]; }

/// An efficiency that does not depend on anything, no own consumption, no divider.
BoostParameters plain(double efficiency) {
  BoostParameters p = boost_5v();
  p.efficiency = Map({3}, {0.1}, {{efficiency}});
  p.quiescent_enabled = p.quiescent_disabled = Current{0.0};
  p.divider_resistance.reset();
  return p;
}

double root(const std::function<double(double)>& rising, double low, double high) {
  for (int i = 0; i < 200; ++i) {
    const double middle = (low + high) / 2;
    (rising(middle) < 0 ? low : high) = middle;
  }
  return (low + high) / 2;
}

/// The converter between a source with resistance and a load on its rail.
class Bench {
 public:
  Bench(Alone b, double volts, double ohms, std::function<double(double)> load_at)
      : part(std::move(b)), source(volts), resistance(ohms), load(std::move(load_at)) {}

  /// The first operating point on the way down from the open source; false where there is none above `lowest`.
  bool solve(double lowest = 1e-3) {
    const auto missing = [&](double in) {
      part.z = {in, 0, 0};
      const double out = root(
          [&](double u) {
            part.z[1] = u;
            return load(u) - driven(part);
          },
          -1, 1e4);
      part.z[1] = out;
      return into(part) - (source - in) / resistance;
    };
    double high = source;
    for (double in = source - 1e-3; in > lowest; in -= 1e-3) {
      if (missing(in) < 0) {
        missing(root(missing, in, high));
        return true;
      }
      high = in;
    }
    return false;
  }
  /// Event rounds until nothing that resets something is due; also solved then.
  void settle() {
    for (int round = 0; round < 20; ++round) {
      REQUIRE(solve());
      bool reset = false;
      for (const std::string& name : part.round()) {
        reset = reset || part.event(name).reset;
        happened.push_back(name);
      }
      if (!reset) return;
    }
    FAIL("no rest");
  }
  /// To the next alarm, through it, and settled. False without one.
  bool next() {
    const auto first = std::min_element(part.alarms.begin(), part.alarms.end());
    if (*first == never) return false;
    part.now.utc = *first;
    const int which = static_cast<int>(first - part.alarms.begin());
    for (const Event& e : part.table.events) {
      if (e.alarm != which) continue;
      part.fire(e.name);
      happened.push_back(e.name);
      break;
    }
    settle();
    return true;
  }
  long times(const std::string& name) const { return std::count(happened.begin(), happened.end(), name); }

  Alone part;
  double source, resistance;
  std::function<double(double)> load;
  Names happened;
};

std::function<double(double)> ampere(double i) {
  return [i](double u) { return u > 0.1 ? i : i * u / 0.1; };
}
std::function<double(double)> ohm(double r) {
  return [r](double u) { return u / r; };
}

/// In a transient, on an input that stands, with a load on its rail. RK4 of its own states, the rail balanced.
class Transient {
 public:
  Transient(Alone b, double volts, std::function<double(double)> load_at)
      : part(std::move(b)), in(volts), load(std::move(load_at)) {
    balance();
    settled_in = into(part);
    settled_rail = part.z[1] - part.z[2];
    part.enter_transient();
    balance();
  }

  void pass(double seconds) {
    constexpr double h = 5e-7;  // a third of the current loop's time
    for (double t = 0; t < seconds - h / 2; t += h) {
      const std::vector<double> x = part.x;
      std::vector<double> rate[4];
      for (int k = 0; k < 4; ++k) {
        for (std::size_t i = 0; k > 0 && i < x.size(); ++i) part.x[i] = x[i] + (k == 3 ? h : h / 2) * rate[k - 1][i];
        balance();
        rate[k] = part.rates();
      }
      for (std::size_t i = 0; i < x.size(); ++i) {
        part.x[i] = x[i] + h / 6 * (rate[0][i] + 2 * rate[1][i] + 2 * rate[2][i] + rate[3][i]);
      }
      balance();
      part.now.utc += static_cast<Tick>(std::llround(h * ticks_per_second));
      if (part.alarms[soft_start] <= part.now.utc) part.fire("feeds");
      most_in = std::max(most_in, into(part));
      lowest = std::min(lowest, rail());
      highest = std::max(highest, rail());
    }
  }
  double rail() const { return part.z[1] - part.z[2]; }

  Alone part;
  double in;
  std::function<double(double)> load;
  double settled_in = 0, settled_rail = 0;
  double most_in = 0, lowest = 1e9, highest = -1e9;

 private:
  void balance() {
    at(part, in,
       root(
           [&](double u) {
             at(part, in, u);
             return load(u) - driven(part);
           },
           -1, 10));
  }
};

}  // namespace

TEST_CASE("boost (2), (5): the output resistance, and the input current from the efficiency map") {
  Alone b = boost();
  at(b, 3.3, 5 - 1e-4 - 0.1 * 0.02);  // 0.1 mV goes into the rounded corner
  const double divider = b.z[1] - b.z[2];
  CHECK(relative_error(driven(b), 0.1 - divider / 5e6) < 1e-9);
  const double quiescent = 25e-6 * 3.3 / std::sqrt(3.3 * 3.3 + 0.09);
  CHECK(relative_error(into(b), divider * 0.1 / (0.92 * 3.3) + quiescent) < 1e-9);
  CHECK(b.label("regime") == "on");
  at(b, 3.75, 5 - 1e-4 - 0.055 * 0.02);  // the middle of a patch of the map
  const double eta = (0.88 + 0.92 + 0.90 + 0.94) / 4;
  CHECK(relative_error(into(b), (b.z[1] - b.z[2]) * 0.055 / (eta * 3.75) + 25e-6 * 3.75 / std::hypot(3.75, 0.3)) <
        1e-9);
  CHECK(relative_error(b.output("efficiency"), (b.z[1] - b.z[2]) * driven(b) / (3.75 * into(b))) < 1e-12);
  CHECK(b.output("input_current") == into(b));
  CHECK(b.output("output_current") == driven(b));
}

TEST_CASE("boost (1): the maximum duty holds the set-point down") {
  BoostParameters p = plain(0.9);
  p.maximum_duty = 0.2;  // 2.8 V to 3.5 V
  Alone b = boost(p);
  at(b, 2.8, 3.5 - 1e-4 - 0.01 * 0.02);
  CHECK(relative_error(driven(b), 0.01) < 1e-2);  // the corner between 3.5 and 5 V lowers the set-point by 1.2 uV
  at(b, 2.8, 3.501);
  CHECK(driven(b) == 0);
  CHECK_FALSE(b.due("current limit"));
}

TEST_CASE("boost (3), (4): an overload draws the current limit and no more, down to a short circuit") {
  Alone b = boost(plain(0.8));
  for (const double in : {2.75, 3.3, 4.2}) {
    at(b, in, 4.5);
    CHECK(relative_error(into(b), 2.5) < 1e-3);
    CHECK(relative_error(driven(b), 0.8 * in * 2.5 / 4.5) < 1e-3);
    CHECK(b.due() == Names{"current limit"});
    for (double out = 4.8; out > in; out -= 0.05) {
      at(b, in, out);
      CHECK(into(b) <= 2.5);
    }
  }
  BoostParameters p = plain(0.8);
  p.rectifier_resistance = Resistance{1e9};  // the converter's own current alone
  Alone alone = boost(p);
  at(alone, 3.3, 0);
  CHECK(driven(alone) <= 2.5);
  CHECK(driven(alone) > 2.4);
  CHECK(into(alone) < 1e-6);
  at(alone, 3.3, 5);
  CHECK_FALSE(alone.due("current limit"));
}

TEST_CASE("boost (3): the corner where the limit meets the regulator is 2 % low") {
  const Alone b = [] {
    Alone part = boost(plain(0.8));
    const double limit = 0.8 * 3.3 * 2.5;  // W
    const double out = root([&](double u) { return limit / u - (5 - 1e-4 - u) / 0.02; }, 4.9, 5);
    at(part, 3.3, out);
    return part;
  }();
  CHECK(relative_error(into(b), 2.5 * std::pow(2, -1 / 32.0)) < 1e-3);
}

TEST_CASE("boost (6): an input above the set-point passes through the rectifier; nothing flows back") {
  for (const BoostParameters& p : {plain(0.9), disconnecting_boost_5v()}) {
    Alone b = boost(p);
    const double quiescent = p.quiescent_enabled.si() * 5.6 / std::hypot(5.6, 0.3);
    at(b, 5.6, 5.6 - 0.3 - 0.005 - 0.1 * 0.1);  // 5 mV go into the rounded corner
    CHECK(relative_error(driven(b), 0.1) < 1e-9);
    CHECK(relative_error(into(b), 0.1 + quiescent) < 1e-9);
    for (int mode = off; mode <= stressed; ++mode) {
      b.memory[0] = mode;
      at(b, 3.3, 5.2);
      CHECK(driven(b) == 0);
    }
  }
}

TEST_CASE("boost (6): off, the rail stands below the cell by the rectifier, or nothing passes") {
  // Common practice: an output that is not disconnected stays 0.2 to 0.4 V below the cell.
  BoostParameters p = plain(0.9);
  for (const double load : {1e-4, 1e-3, 1e-2, 0.1, 0.5}) {
    Bench bench(boost(p), 3.7, 1e-3, ampere(load));
    bench.part.memory[0] = off;
    REQUIRE(bench.solve());
    const double below = bench.part.z[0] - bench.part.z[1];
    CHECK(below > 0.2);
    CHECK(below < 0.4);
  }
  p.output_disconnect = true;
  Alone b = boost(p);
  for (const int mode : {off, locked_out, waiting, starting}) {
    b.memory[0] = mode;
    at(b, 3.7, 0);
    CHECK(driven(b) == 0);
  }
}

TEST_CASE("boost (7): a soft start takes the output capacitor's energy over the efficiency, whatever the input") {
  // Energy of a capacitor: the charge C (V^2 - V0^2) / (2 eta Vin).
  for (const bool disconnect : {false, true}) {
    BoostParameters p = plain(0.8);
    p.output_disconnect = disconnect;
    Alone b = boost(p);
    b.memory[0] = starting;
    for (const double in : {2.7, 3.3, 4.2}) {
      at(b, in, in);
      const double before = disconnect ? 0 : in - 0.3 - 0.005;
      const double charge = 22e-6 * (25 - before * before) / (2 * 0.8 * in);
      CHECK(relative_error(into(b) * 2e-3, charge) < 1e-9);
      CHECK(relative_error(b.flow("start_up") * 2e-3, charge * in) < 1e-9);
      CHECK(driven(b) == 0);
    }
    at(b, 5.5, 5);
    CHECK((b.flow("start_up") > 0) == disconnect);  // the rectifier has filled it above the set-point: 5.195 V
  }
  BoostParameters p = plain(0.8);
  p.output_capacitance = Capacitance{0.01};  // would take 50 W
  Alone b = boost(p);
  b.memory[0] = starting;
  at(b, 3.3, 3.3);
  CHECK(relative_error(into(b), 2.5) < 1e-9);
}

TEST_CASE("boost (8): own consumption by mode, vanishing with the input") {
  BoostParameters p = boost_5v();
  p.divider_resistance.reset();
  Alone b = boost(p);
  for (int mode = off; mode <= stressed; ++mode) {
    b.memory[0] = mode;
    const bool enabled = mode == waiting || mode == starting || mode == on;
    const bool disabled = mode == off || mode == locked_out;
    for (const double in : {1.2, -1.2}) {
      at(b, in, 5.1);  // below half the lockout
      const double expected = (enabled ? 25e-6 : disabled ? 0.5e-6 : 0) * in / std::hypot(in, 0.3);
      CHECK(into(b) == doctest::Approx(expected).epsilon(1e-12));
    }
    at(b, 0, 5.1);
    CHECK(std::abs(into(b)) < 1e-18);
  }
}

TEST_CASE("boost (9): the feedback divider is drawn from the rail, always") {
  Alone b = boost();
  for (int mode = off; mode <= stressed; ++mode) {
    b.memory[0] = mode;
    at(b, 3, 5.5);
    CHECK(relative_error(driven(b), -5.5 / 5e6) < 1e-12);
  }
}

TEST_CASE("boost (10): the worst case draws a constant current above the lockout, and drives nothing") {
  Alone b = boost();
  b.memory[0] = stressed;
  for (const double in : {2.7, 4.2}) {
    at(b, in, 0);
    CHECK(relative_error(into(b), 2.5) < 1e-12);
    CHECK(driven(b) == 0);
  }
}

TEST_CASE("boost: below half the lockout no converter current is left, and none jumps on the way there") {
  for (int mode = off; mode <= stressed; ++mode) {
    Alone b = boost();
    b.memory[0] = mode;
    at(b, 1.35, 3);
    CHECK(into(b) < 30e-6);
    double before = into(b);
    for (double in = 1.35; in < 6; in += 1e-4) {
      at(b, in, 3);
      CHECK(std::abs(into(b) - before) < 2e-3);
      before = into(b);
    }
  }
}

TEST_CASE("boost: the power balance holds over the whole map") {
  Random random(5);
  Alone b = boost();
  for (int i = 0; i < 3000; ++i) {
    const double load = std::pow(10, random.between(-5, 0.2));
    at(b, random.between(2.7, 4.9), 5 - 1e-4 - load * 0.02);
    const double in = b.z[0] - b.z[2], out = b.z[1] - b.z[2];
    const double lost = b.flow("conversion") + b.flow("rectifier") + b.flow("quiescent");
    CHECK(relative_error(in * into(b), out * driven(b) + lost) < 1e-12);
    CHECK(b.flow("conversion") >= 0);
    const double rated = b.flow("conversion") / (b.flow("conversion") + out * (driven(b) + out / 5e6));
    CHECK(rated <= 1 - 0.55 + 1e-12);
    CHECK(rated >= 1 - 0.94 - 1e-12);
  }
}

TEST_CASE("boost: conversion ratio and efficiency with inductor resistance (Erickson & Maksimovic, ch. 3)") {
  // Their formulas, tabulated: M and eta to 1e-4. At its maximum duty the model is a source V/(1 - D) behind Rreg;
  // with Rreg = RL/(1 - D)^2 and eta(I) = 1 - I RL/((1 - D) V) it must be the textbook's converter.
  const double duties[] = {0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9};
  const struct {
    double alpha;
    double ratio[8];
  } rows[] = {{0.005, {.9950, 1.2403, 1.6438, 1.9608, 2.4242, 3.1579, 4.4444, 6.6667}},
              {0.01, {.9901, 1.2308, 1.6216, 1.9231, 2.3529, 3.0000, 4.0000, 5.0000}},
              {0.02, {.9804, 1.2121, 1.5789, 1.8519, 2.2222, 2.7273, 3.3333, 3.3333}},
              {0.05, {.9524, 1.1594, 1.4634, 1.6667, 1.9048, 2.1429, 2.2222, 1.6667}},
              {0.1, {.9091, 1.0811, 1.3043, 1.4286, 1.5385, 1.5789, 1.4286, 0.9091}}};
  const double eta_002[] = {.9804, .9697, .9474, .9259, .8889, .8182, .6667, .3333};
  const double in = 10, load = 100;
  for (const auto& row : rows) {
    for (int i = 0; i < 8; ++i) {
      CAPTURE(row.alpha);
      CAPTURE(duties[i]);
      const double away = 1 - duties[i], inductor = row.alpha * load;
      const double dead = away * in / inductor;  // eta = 0 here
      BoostParameters p = plain(1);
      p.maximum_duty = duties[i];
      p.regulation_resistance = Resistance{inductor / (away * away)};
      p.efficiency = Map({in}, {0, 0.95 * dead}, {{1, 0.05}});
      p.output_voltage = Voltage{1000.0};
      p.current_limit = Current{1000.0};
      p.rectifier_drop = Voltage{10.0};
      Alone b = boost(p);
      b.z = {in, 0, 0};
      const double out = root(
          [&](double u) {
            b.z[1] = u;
            return u / load - driven(b);
          },
          0, 200);
      b.z[1] = out;
      CHECK(std::abs(out / in - row.ratio[i]) < 1e-4);
      if (row.alpha == 0.02) CHECK(std::abs(b.output("efficiency") - eta_002[i]) < 1e-4);
      CHECK(relative_error(into(b) * away, driven(b)) < 2e-5);  // charge balance; 0.1 mV are in the rounded corner
    }
  }
}

TEST_CASE("boost: as a constant-power load it has an operating point up to E^2/4R, and none beyond") {
  // methods.md 1c row 1: V = (E + sqrt(E^2 - 4 R P)) / 2; 3.2 V and 2.5 W: 2.99, 2.75, 1.85 V; limits 10.2, 5.1, 2.56
  // W.
  BoostParameters p = plain(1.0);
  p.output_voltage = Voltage{6.0};
  p.regulation_resistance = Resistance{1e-4};
  p.lockout = Voltage{0.2};
  p.current_limit = Current{500.0};
  const auto sag = [&](double ohms, double watts) -> std::optional<double> {
    Bench bench(boost(p), 3.2, ohms, ampere(watts / 6));
    if (!bench.solve(0.3) || bench.part.z[1] < 5.8) return std::nullopt;
    return bench.part.z[0];
  };
  const struct { double ohms, volts; } rows[] = {{0.25, 2.99}, {0.5, 2.75}, {1.0, 1.85}};
  for (const auto& row : rows) {
    CAPTURE(row.ohms);
    const std::optional<double> v = sag(row.ohms, 2.5);
    REQUIRE(static_cast<bool>(v));
    CHECK(std::abs(*v - row.volts) < 0.006);
    CHECK(relative_error(*v, (3.2 + std::sqrt(3.2 * 3.2 - 10 * row.ohms)) / 2) < 1e-4);
    const double most = 3.2 * 3.2 / (4 * row.ohms);
    CHECK(static_cast<bool>(sag(row.ohms, 0.995 * most)));
    CHECK_FALSE(static_cast<bool>(sag(row.ohms, 1.005 * most)));
  }
}

TEST_CASE("boost: it hiccups if and only if E - R Istart < Uf and E > Ur") {
  // Limit cycle of a lockout with hysteresis, derived by hand; Uf the falling and Ur the rising threshold.
  BoostParameters p = plain(0.8);
  p.output_disconnect = true;
  const double falling = 2.7, rising = 2.9;
  const double start = 22e-6 * 25 / (2 * 0.8 * 2e-3) / falling;  // at the falling threshold
  int hiccups = 0, fine = 0, dead = 0;
  for (const double source : {2.6, 2.8, 2.89, 2.91, 3.0, 3.3, 3.7}) {
    for (const double ohms : {0.1, 1.0, 2.0, 5.0, 8.0, 20.0}) {
      CAPTURE(source);
      CAPTURE(ohms);
      Bench bench(boost(p), source, ohms, ohm(1e6));
      bench.part.memory[0] = locked_out;
      bench.settle();
      for (int i = 0; i < 6 && bench.next(); ++i) {
      }
      const bool cycles = bench.times("lockout") > 2;
      CHECK(cycles == (source - ohms * start < falling && source > rising));
      ++(cycles ? hiccups : bench.part.memory[0] == on ? fine : dead);
    }
  }
  CHECK(hiccups > 0);
  CHECK(fine > 0);
  CHECK(dead > 0);
}

TEST_CASE("boost: a start from the lockout takes the retry time and the soft start") {
  Alone b = boost();
  CHECK(b.label("regime") == "on");
  CHECK(std::all_of(b.alarms.begin(), b.alarms.end(), [](Tick t) { return t == never; }));
  b.now.utc = 1000 * ticks_per_second;
  at(b, 2.701, 5);
  CHECK(b.due().empty());
  CHECK(b.margin("input above lockout") == doctest::Approx(0.001).epsilon(1e-9));
  at(b, 2.699, 5);
  CHECK(b.round() == Names{"lockout"});
  CHECK(b.event("lockout").role == EventRole::cut);
  CHECK(b.label("regime") == "locked out");
  CHECK(std::isinf(b.margin("input above lockout")));
  at(b, 2.899, 2.5);
  CHECK(b.due().empty());
  at(b, 2.901, 2.5);
  CHECK(b.round() == Names{"input back"});
  CHECK(b.label("regime") == "waiting");
  CHECK(b.alarms[retry] == b.now.utc + ticks_per_second / 10);
  at(b, 2.699, 2.5);  // gone in between, and back when it counts
  CHECK(b.due().empty());
  at(b, 2.701, 2.5);
  b.now.utc = b.alarms[retry];
  b.fire("start");
  CHECK(b.label("regime") == "starting");
  CHECK(b.alarms[retry] == never);
  CHECK(b.alarms[soft_start] == b.now.utc + ticks_per_second / 500);
  CHECK(b.due().empty());
  b.now.utc = b.alarms[soft_start];
  b.fire("feeds");
  CHECK(b.event("feeds").role == EventRole::restored);
  CHECK(b.event("start").load_step);
  CHECK(b.label("regime") == "on");
  CHECK(b.alarms[soft_start] == never);
}

TEST_CASE("boost: an input that does not stand for the retry time doubles the next, 13 times at most, until a start") {
  Alone b = boost();
  at(b, 2.6, 5);
  REQUIRE(b.round() == Names{"lockout"});
  Tick wait = ticks_per_second / 10;
  const auto back = [&] {
    at(b, 2.95, 2.5);
    CHECK(b.round() == Names{"input back"});
    CHECK(b.label("regime") == "waiting");
    CHECK(b.alarms[retry] == b.now.utc + wait);
    b.now.utc = b.alarms[retry];
  };
  for (int failed = 0; failed < 16; ++failed) {
    CAPTURE(failed);
    back();
    at(b, 2.7 - 1e-9, 2.5);
    CHECK(b.due().empty());
    b.fire("start");
    CHECK(b.label("regime") == "locked out");
    CHECK(b.alarms[retry] == never);
    if (failed < 13) wait *= 2;
  }
  CHECK(wait == (ticks_per_second / 10) << 13);
  back();
  b.fire("start");
  CHECK(b.label("regime") == "starting");
  at(b, 2.6, 2.5);
  REQUIRE(b.round() == Names{"lockout"});
  wait = ticks_per_second / 10;
  back();
}

TEST_CASE("boost: the line switches it on and off; where both are due, off stands") {
  Alone b = boost();
  at(b, 3.7, 5);
  b.line[0] = 1;
  CHECK(b.due().empty());
  b.line[0] = 0;
  CHECK(b.round() == Names{"disabled"});
  CHECK(b.label("regime") == "off");
  CHECK(std::all_of(b.alarms.begin(), b.alarms.end(), [](Tick t) { return t == never; }));
  CHECK(b.due().empty());
  b.line[0] = 1;
  CHECK(b.round() == Names{"enabled"});
  CHECK(b.label("regime") == "starting");
  b.line[0] = 0;
  at(b, 2.5, 2);
  CHECK(b.round() == Names{"lockout", "disabled"});
  CHECK(b.label("regime") == "off");
  b.line[0] = 1;
  at(b, 2.85, 2);  // above the falling threshold, not above the rising one
  CHECK(b.round() == Names{"enabled"});
  CHECK(b.label("regime") == "locked out");
  CHECK(b.due().empty());
  b.line[0] = 0;
  CHECK(b.round() == Names{"disabled"});
  CHECK(b.label("regime") == "off");
}

TEST_CASE("boost: the worst case of a switch-on is asked only of a part that runs") {
  Alone b = boost();
  const Stress& stress = b.table.stresses.at(0);
  for (int mode = off; mode <= stressed; ++mode) {
    b.memory[0] = mode;
    std::int32_t copy[] = {mode, 3};
    const bool possible = stress.arrange(*b.model, b.view(), copy);
    CHECK(possible == (mode == starting || mode == on));
    CHECK(copy[0] == (possible ? stressed : mode));
    CHECK(copy[1] == 3);
  }
  // The limit's current through the source's resistance: the margin is exact where it is positive.
  Bench bench(boost(), 3.7, 0.3, ohm(1e3));
  bench.part.memory[0] = stressed;
  REQUIRE(bench.solve());
  CHECK(bench.part.margin("input above lockout") == doctest::Approx(3.7 - 0.3 * 2.5 - 2.7).epsilon(1e-6));
  bench.resistance = 0.5;
  REQUIRE(bench.solve());
  CHECK(bench.part.margin("input above lockout") < 0);
  CHECK(bench.part.due().empty());
}

TEST_CASE("boost (14): a transient within a soft start begins that start anew, without an inrush") {
  // What the start takes at least: the output capacitor's charge within the soft start, and the load's current; from
  // the rail at 0 or below the input by the rectifier. Energy of a capacitor: textbook.
  for (const bool disconnect : {false, true}) {
    for (const double elapsed : {0.0, 0.3, 0.9}) {
      CAPTURE(disconnect);
      CAPTURE(elapsed);
      BoostParameters p = plain(0.8);
      p.output_disconnect = disconnect;
      Alone b = boost(p);
      b.now.utc = some_start;
      b.memory[0] = starting;
      b.x[Boost::ramp] = elapsed;  // as it would be by then
      b.alarms[soft_start] = some_start + static_cast<Tick>((1 - elapsed) * 2e-3 * ticks_per_second);
      Transient t(b, 3.7, ohm(1e3));
      CHECK(t.rail() == doctest::Approx(disconnect ? 0 : 3.7 - 0.3 - 0.005).epsilon(1e-3));
      CHECK(t.rail() == doctest::Approx(t.settled_rail).epsilon(1e-9));
      CHECK(into(t.part) <= t.settled_in);
      CHECK(t.part.x[Boost::ramp] == doctest::Approx(t.rail() / 5).epsilon(1e-9));
      CHECK(t.part.alarms[soft_start] == some_start + ticks_per_second / 500);
      t.pass(2e-3);
      CHECK(t.part.label("regime") == "on");
      CHECK(t.rail() == doctest::Approx(5).epsilon(0.02));
      t.pass(1e-3);
      CHECK(t.rail() == doctest::Approx(5).epsilon(1e-3));
      CHECK(t.highest < 5.1);
      const double slope = 5 / 2e-3;  // V/s, of (14)
      const double rising = 5 * (22e-6 * slope + 5e-3) / (0.8 * 3.7);
      CHECK(t.most_in > 0.5 * rising);
      CHECK(t.most_in < 1.3 * rising);
    }
  }
}

TEST_CASE("boost (16): passing the input on, a transient begins where the settled run stands, and stays there") {
  for (const bool disconnect : {false, true}) {
    for (const double load : {0.05, 0.1, 0.3}) {
      CAPTURE(disconnect);
      CAPTURE(load);
      BoostParameters p = plain(0.9);
      p.output_disconnect = disconnect;
      Transient t(boost(p), 5.6, ampere(load));
      CHECK(t.settled_rail == doctest::Approx(5.6 - 0.3 - 0.005 - 0.1 * load).epsilon(1e-6));
      CHECK(t.rail() == doctest::Approx(t.settled_rail).epsilon(1e-9));
      CHECK(into(t.part) == doctest::Approx(t.settled_in).epsilon(disconnect ? 0.1 : 1e-9));  // its losses differ
      t.pass(1e-3);
      CHECK(t.lowest > t.settled_rail - 1e-4);
      CHECK(t.highest < t.settled_rail + 1e-4);
    }
  }
}

TEST_CASE("boost (16): from passing on to regulating and back the rail follows the input") {
  BoostParameters p = plain(0.9);
  p.output_disconnect = true;
  Transient t(boost(p), 5.6, ampere(0.1));
  t.in = 4.8;  // the rail falls to the set-point and is held there
  t.lowest = 10;
  t.pass(2e-3);
  CHECK(t.rail() == doctest::Approx(5 - 0.02 * 0.1).epsilon(1e-3));
  CHECK(t.lowest > 4.85);
  t.in = 5.6;
  t.pass(2e-3);
  CHECK(t.rail() == doctest::Approx(t.settled_rail).epsilon(1e-3));
  CHECK(t.most_in <= 2.5);
}

TEST_CASE("boost: findings") {
  const auto fault = [](auto change) {
    BoostParameters p = boost_5v();
    change(p);
    const Names keys = refused<Boost>(p);
    return keys.size() == 1 ? keys[0] : std::to_string(keys.size()) + " findings";
  };
  using P = BoostParameters;
  CHECK(fault([](P& p) { p.efficiency = Map(); }) == "efficiency");
  CHECK(fault([](P& p) { p.lockout_hysteresis = Voltage{2.4}; }) == "lockout");
  CHECK(fault([](P& p) { p.quiescent_disabled = Current{1e-3}; }) == "quiescent_disabled");
}
