#include "models/storage/capacitor.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "tests/models/support/capacitor_examples.hpp"
#include "tests/models/support/in_time.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/random.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;
/// What the rest of the net takes at a voltage, A; must not fall with it.
using Net = std::function<double(double)>;

enum Regime { fed, charging, charging_weakly, discharging, settled, idle, paying };
enum State { voltage, charging_current, target, begun, lead };
constexpr double farad = 470e-6, series = 0.15, band = 0.02, charging_time = 0.1, meeting = band / 20;
constexpr double weak_current = farad * band / charging_time;
constexpr double contact = 5e-5, quiet = contact / series;  // 333 uA, above C d/tc / 20

Alone capacitor(const CapacitorParameters& p = electrolytic_470uf()) {
  Alone c = build<Capacitor>(p);
  c.start(Ambient{});
  return c;
}

Alone leaking(double insulation_time = 1000) {
  CapacitorParameters p = electrolytic_470uf();
  p.insulation_time = Duration{insulation_time};
  return capacitor(p);
}

/// The net's voltage against a minus pin that is not at zero.
void at(Alone& c, double volts) { c.z = {volts + 0.3, 0.3}; }
double across(const Alone& c) { return c.z[0] - c.z[1]; }
double into(const Alone& c) { return c.currents()[0]; }

/// Charged to x, in a regime, the net where the store is.
Alone charged(double x, Regime regime, Alone c = capacitor()) {
  c.x[voltage] = x;
  c.memory[0] = regime;
  at(c, x);
  return c;
}

Net ohm(double r) {
  return [r](double v) { return v / r; };
}
Net nothing() {
  return [](double) { return 0.0; };
}
/// A feed behind a resistance.
Net feed(double volts, double r) {
  return [=](double v) { return (v - volts) / r; };
}
/// A rail held by a stiff regulator.
Net stiff(double volts) { return feed(volts, 1e-6); }
/// A feed through a blocking diode, with a current limit, and a load of 1 nS so that the net stands somewhere.
Net limited(double volts, double r, double limit) {
  return [=](double v) { return 1e-9 * v - std::clamp((volts - v) / r, 0.0, limit); };
}
Net both(const Net& one, const Net& other) {
  return [=](double v) { return one(v) + other(v); };
}

/// The capacitor in a net, through time: events as the engine makes them, the integrals of its flows.
class Bench {
 public:
  Bench(const Alone& part, Net net) : c(part), taken(std::move(net)), energy(part.table.flows.size()) { settle(); }

  /// Rounds at this tick until nothing is due. The names of what was due.
  Names settle(bool held_up = false) {
    Names all;
    for (int round = 0; round < 12; ++round) {
      balance(c);
      lowest = std::min(lowest, across(c));
      const Names due = c.one_round(held_up && round == 0);
      if (due.empty()) return all;
      all.insert(all.end(), due.begin(), due.end());
    }
    FAIL("events keep causing each other");
    return all;
  }

  Names become(Net net) {
    taken = std::move(net);
    return settle();
  }

  /// The engine took too many short steps.
  Names hold_up() { return settle(true); }

  /// Fourth-order Runge-Kutta with steps of up to `step`, shortened to the alarms; guards are looked at after each.
  void pass(double seconds, double step) {
    const Tick end = c.now.utc + static_cast<Tick>(std::llround(seconds * ticks_per_second));
    while (c.now.utc < end) {
      const Tick wanted = std::max<Tick>(1, static_cast<Tick>(std::llround(step * ticks_per_second)));
      const Tick to = std::min({end, c.next_alarm(), c.now.utc + wanted});
      advance(static_cast<double>(to - c.now.utc) / ticks_per_second);
      c.now.utc = to;
      settle();
    }
  }

  int count(const std::string& name) const {
    return static_cast<int>(
        std::count_if(c.happened.begin(), c.happened.end(), [&](const auto& h) { return h.second == name; }));
  }
  std::string regime() const { return c.label("regime"); }
  double x() const { return c.x[voltage]; }
  double u() const { return c.output("voltage"); }
  double lead() const { return c.x[State::lead]; }
  /// From what is around it, J.
  double absorbed() const { return energy[0] + energy[1] + energy[2]; }
  double v() const { return across(c); }
  double current() const { return into(c); }

  InTime c;
  Net taken;
  std::vector<double> energy;
  double lowest = 1e9;  ///< voltage of the net in any round

 private:
  void balance(Alone& part) const {
    double low = -10, high = 10;
    for (int i = 0; i < 60; ++i) {
      const double middle = (low + high) / 2;
      at(part, middle);
      (into(part) + taken(middle) < 0 ? low : high) = middle;
    }
    at(part, high);
  }

  void advance(double h) {
    Alone there = c;
    std::vector<double> rate[4], flow[4];
    const double share[] = {0, h / 2, h / 2, h};
    for (int k = 0; k < 4; ++k) {
      there.x = c.x;
      for (std::size_t i = 0; k > 0 && i < c.x.size(); ++i) there.x[i] += share[k] * rate[k - 1][i];
      balance(there);
      rate[k] = there.rates();
      flow[k] = there.flows();
    }
    const auto add = [h](std::vector<double>& to, const std::vector<double>* k) {
      for (std::size_t i = 0; i < to.size(); ++i) to[i] += h / 6 * (k[0][i] + 2 * k[1][i] + 2 * k[2][i] + k[3][i]);
    };
    add(c.x, rate);
    add(energy, flow);
  }
};

}  // namespace

TEST_CASE("capacitor: it begins empty and fed") {
  const Alone c = capacitor();
  CHECK(c.x == std::vector<double>{0, 0, 0, 0, 0});
  CHECK(c.label("regime") == "fed");
  CHECK(c.alarms == std::vector<Tick>{never, never});
}

TEST_CASE("capacitor: on its own its leakage is a decay with the insulation time, fed it has none") {
  for (const Regime regime : {fed, charging, charging_weakly, discharging, settled, idle, paying}) {
    const Alone c = charged(4, regime, leaking(1000));
    std::vector<double> decay(c.x.size(), 0.0);
    c.model->decay(c.view(), decay.data());
    const bool own = regime == discharging || regime == idle;
    CHECK(decay[voltage] == doctest::Approx(own ? 1e-3 : 0).epsilon(1e-12));
    // The net where the store is: no current, and the leakage is all there is.
    if (own) CHECK(c.rates()[voltage] == doctest::Approx(-decay[voltage] * 4).epsilon(1e-9));
  }
}

TEST_CASE("capacitor: fed or settled, it takes nothing within the tracking band but its leakage") {
  for (const Regime regime : {fed, settled}) {
    Alone c = charged(5, regime);
    for (const double v : {4.981, 5.0, 5.019}) {
      at(c, v);
      CHECK(into(c) == 0);
      CHECK(c.rates() == std::vector<double>{0, 0, 0, 0, 0});
      CHECK(c.due().empty());
    }
    Alone leaky = charged(5, regime, leaking());
    at(leaky, 5.01);
    CHECK(relative_error(into(leaky), 5.01 / (1000 / farad)) < 1e-12);  // (4): Rleak = 1000 ohm F / C
    CHECK(relative_error(leaky.flow("leakage"), 5.01 * into(leaky)) < 1e-12);
    CHECK(leaky.rates()[voltage] == 0);
  }
}

TEST_CASE("capacitor (2), (5), (6): switched on to a stiff rail it stands there at once and draws C V, half is lost") {
  // Textbook: a stiff source gives C dV V, of which C dV^2 / 2 is stored. It stops half a band short of the rail.
  Bench b(capacitor(), stiff(5));
  const double end = 5 - band / 2;
  CHECK(b.settle().empty());
  CHECK(b.c.happened == std::vector<std::pair<Tick, std::string>>{{0, "charges"}, {0, "follows"}});
  CHECK(b.regime() == "paying");
  CHECK(b.u() == doctest::Approx(end).epsilon(1e-6));
  CHECK(b.x() == 0);
  CHECK(b.c.model->stored_energy(b.c.view()) == 0);  // nothing has been drawn yet
  CHECK(relative_error(b.c.x[charging_current], farad * end / charging_time) < 1e-5);
  CHECK(b.c.alarms[0] == ticks_per_second / 10);
  for (const double share : {0.1, 0.5, 0.9}) {
    b.pass(share * charging_time - static_cast<double>(b.c.now.utc) / ticks_per_second, 1e-3);
    CHECK(relative_error(b.current(), farad * end / charging_time) < 1e-5);  // evenly
    CHECK(relative_error(b.x(), share * end) < 1e-5);
    CHECK(relative_error(b.lead(), (1 - share) * end) < 1e-5);
    CHECK(b.u() == doctest::Approx(end).epsilon(1e-6));
  }
  b.pass(0.1 * charging_time, 1e-3);
  CHECK(b.x() == doctest::Approx(end).epsilon(1e-6));
  CHECK(std::abs(b.lead()) < 1e-9);
  const double drawn = farad * end * 5, stored = farad * end * end / 2;
  CHECK(relative_error(b.energy[0] + b.energy[1], drawn) < 1e-5);
  CHECK(relative_error(b.energy[0], stored) < 1e-5);
  CHECK(relative_error(b.energy[1], drawn - stored) < 1e-5);
  CHECK(relative_error(b.energy[1] / b.energy[0], 1) < 1.01 * band / 5);
  CHECK(relative_error(b.c.model->stored_energy(b.c.view()), b.energy[0]) < 1e-9);  // (6)
  CHECK(b.count("charging over") == 1);
  CHECK(b.regime() == "fed");
  CHECK(b.current() == 0);
  CHECK(b.c.alarms[0] == never);
  CHECK(b.c.x[charging_current] == 0);
  b.pass(10, 1);
  CHECK(b.c.happened.size() == 3);

  const double before = b.x(), energy = b.energy[0] + b.energy[1];
  b.become(stiff(5.4));  // and a step of the rail: C dV
  CHECK(b.c.x[begun] == doctest::Approx(before).epsilon(1e-9));
  CHECK(b.c.x[target] == doctest::Approx(5.4 - band / 2).epsilon(1e-6));
  CHECK(b.u() == doctest::Approx(5.4 - band / 2).epsilon(1e-6));
  b.pass(0.2, 1e-3);
  CHECK(b.x() == doctest::Approx(5.4 - band / 2).epsilon(1e-6));
  CHECK(relative_error(b.energy[0] + b.energy[1] - energy, farad * (b.x() - before) * 5.4) < 1e-5);
  CHECK(b.regime() == "fed");
}

TEST_CASE("capacitor: a net that loses its feed 10 ms after a switch-on is held up by a full store") {
  // Textbook: through 5 mohm of a feed it was full after a millisecond; then u0 exp(-t / ((R + Resr) C)).
  const double r = 250, tau = (r + series) * farad, full = 5 - band / 2;
  Bench b(capacitor(), stiff(5));
  b.pass(0.01, 1e-3);
  CHECK(b.x() == doctest::Approx(0.1 * full).epsilon(1e-5));
  const double energy = b.absorbed();
  b.become(ohm(r));
  CHECK(b.regime() == "discharging");
  CHECK(b.lowest > full - 2 * band - series * full / r - 2e-4);
  CHECK(b.v() == doctest::Approx(full * r / (r + series)).epsilon(1e-6));
  b.pass(2 * tau, tau / 100);
  CHECK(b.u() == doctest::Approx(full * std::exp(-2.0)).epsilon(1e-5));
  const double given = farad / 2 * full * full * (1 - std::exp(-4.0)) * r / (r + series);
  CHECK(energy - b.absorbed() == doctest::Approx(given).epsilon(1e-5));
}

TEST_CASE("capacitor (5): what a lost feed leaves unpaid is drawn with the next charge") {
  // What a capacitor draws and gives through cuts is known without any law of when: C dU U0 for each charge from a
  // stiff rail, half of C dU^2 of it lost, C (U^2 - U'^2) / 2 for each discharge, Resr / (R + Resr) of it lost.
  // Textbook.
  const double r = 30, tau = (r + series) * farad, full = 5 - band / 2;
  Bench b(capacitor(), stiff(5));
  double charged_by = full, lost = farad * full * (5 - full / 2), given = 0;
  for (int cut = 0; cut < 6; ++cut) {
    CAPTURE(cut);
    b.pass(0.01, 1e-3);
    CHECK(b.x() < 0.5);
    const double before = b.absorbed();
    b.become(ohm(r));
    b.pass((0.3 + 0.1 * cut) * tau, tau / 200);
    const double fallen = full * std::exp(-(0.3 + 0.1 * cut)), spent = farad / 2 * (full * full - fallen * fallen);
    CHECK(b.u() == doctest::Approx(fallen).epsilon(1e-5));
    CHECK(before - b.absorbed() == doctest::Approx(spent * r / (r + series)).epsilon(1e-4));
    b.become(stiff(5));
    CHECK(b.regime() == "paying");
    CHECK(b.u() == doctest::Approx(full).epsilon(1e-6));
    CHECK(b.c.x[charging_current] <= farad * 2 * full / charging_time * (1 + 1e-9));  // however much is unpaid
    charged_by += full - fallen;
    lost += farad * (full - fallen) * (5 - (full + fallen) / 2) + spent * series / (r + series);
    given += spent * r / (r + series);
  }
  b.pass(1, 1e-3);
  CHECK(b.regime() == "fed");
  CHECK(std::abs(b.lead()) < 2e-7);  // what a tick of the charging current is
  CHECK(b.x() == doctest::Approx(full).epsilon(1e-6));
  CHECK(b.absorbed() + given == doctest::Approx(farad * charged_by * 5).epsilon(1e-4));
  CHECK(b.energy[0] == doctest::Approx(farad / 2 * full * full).epsilon(1e-4));
  CHECK(b.energy[1] == doctest::Approx(lost).epsilon(1e-4));
}

TEST_CASE(
    "capacitor: it gives no more than eight charges on credit, however often its feed is lost before it has paid") {
  Bench b(capacitor(), ohm(250));
  double least = 0, credit = 0;
  for (int i = 0; i < 200; ++i) {
    b.become(stiff(5));
    b.pass(1e-3, 1e-4);  // of the 100 ms in which it is to pay
    b.become(ohm(2));
    b.pass(5 * 2 * farad, farad / 20);
    least = std::min(least, b.x());
    credit = std::max(credit, b.lead());
  }
  CHECK(b.count("follows") > 8);
  CHECK(b.count("follows") < 200);
  CHECK(credit < 10 * 5);
  CHECK(least > -9 * 5.1);
  b.become(stiff(5));
  b.pass(3, 1e-2);
  CHECK(b.x() == doctest::Approx(5 - band / 2).epsilon(1e-6));
  CHECK(std::abs(b.lead()) < 2e-7);  // what a tick of the charging current is
}

TEST_CASE("capacitor (5): a net that moves while the charge is being paid for leaves nothing unpaid in the end") {
  const auto balance = [](const Bench& b, double drawn) {
    CHECK(std::abs(b.lead()) < 1e-9);
    CHECK(b.x() == doctest::Approx(5.4 - band / 2).epsilon(1e-6));
    CHECK(b.absorbed() == doctest::Approx(drawn).epsilon(1e-4));
    CHECK(b.regime() == "fed");
  };
  Bench up(capacitor(), stiff(5));
  up.pass(0.01, 1e-3);
  up.become(stiff(5.4));
  CHECK(up.u() == doctest::Approx(5.4 - band / 2).epsilon(1e-6));
  up.pass(0.2, 1e-3);
  balance(up, farad * (0.1 * 4.99 * 5 + (5.39 - 0.1 * 4.99) * 5.4));  // each part at the voltage it is drawn at

  Bench down(capacitor(), stiff(5));
  const double tau = series * farad;
  down.pass(0.01, 1e-3);
  const double paid = down.x();
  CHECK(down.become(stiff(4.94)) == Names{"holds"});
  down.pass(40 * tau, tau / 20);
  CHECK(down.regime() == "settled");
  CHECK(std::abs(down.u() - 4.94) <= 1.001 * contact);
  CHECK(paid - down.x() == doctest::Approx(0.05).epsilon(2e-3));
  const double after = down.x(), absorbed = down.absorbed();
  down.pass(1, 0.01);
  CHECK(down.x() == after);  // until the next charge
  down.become(stiff(5.4));
  down.pass(0.2, 1e-3);
  balance(down, absorbed + farad * (5.39 - after) * 5.4);
}

TEST_CASE("capacitor (2): charging ends where store and net meet; it never turns round") {
  for (const Regime regime : {charging, charging_weakly}) {
    Alone c = charged(5, regime);
    c.x[charging_current] = 0.02;
    for (const double lead : {meeting, 10 * meeting, 1.0}) {
      at(c, 5 + lead);
      CHECK(into(c) == doctest::Approx(0.02).epsilon(1e-9));
    }
    at(c, 5 + meeting / 2);
    CHECK(relative_error(into(c), 0.01) < 1e-9);
    for (const double below : {0.0, 0.01, 0.039}) {
      at(c, 5 - below);
      CHECK(into(c) == 0);
    }
  }
  Alone c = charged(2, paying);  // its store stands where it is: what it draws ends a band below, where it would hold
  c.x[lead] = 3;
  c.x[charging_current] = 0.02;
  for (const double above : {-0.95 * band + 1e-9, 0.0, 1.0}) {
    at(c, 5 + above);
    CHECK(into(c) == doctest::Approx(0.02).epsilon(1e-9));
    CHECK(c.rates()[lead] == -c.rates()[voltage]);
    CHECK(c.rates()[voltage] == doctest::Approx(0.02 / farad).epsilon(1e-9));
  }
  for (const double below : {band + 1e-9, 0.039}) {
    at(c, 5 - below);
    CHECK(into(c) == 0);
  }
}

TEST_CASE(
    "capacitor: a returning feed sees no short circuit, whatever it finds, and charges within the charging time") {
  for (const Regime regime : {fed, discharging, settled, idle}) {
    CAPTURE(regime);
    Alone c = charged(1, regime);
    double before = 0;
    for (double lead = 1e-7; lead < 6; lead *= 1.3) {
      at(c, 1 + lead);
      CHECK(into(c) >= before - 1e-12);
      CHECK(into(c) < weak_current);
      before = into(c);
    }
    Bench b(c, stiff(5));
    CHECK(b.regime() == "paying");
    CHECK(b.u() == doctest::Approx(5 - band / 2).epsilon(1e-6));
    CHECK(relative_error(b.c.x[charging_current], farad * (4 - band / 2) / charging_time) < 1e-5);
    b.pass(0.2, 1e-3);
    CHECK(b.regime() == "fed");
    CHECK(b.x() == doctest::Approx(5 - band / 2).epsilon(1e-6));
  }
}

TEST_CASE("capacitor (1): a net that loses its feed falls by two bands in that round, then the store holds it") {
  const double amperes = 5.0 / 250;
  for (const Regime regime : {fed, settled, charging, charging_weakly, paying}) {
    CAPTURE(regime);
    Alone c = charged(5, regime);
    c.x[voltage] = 1;  // four fifths of it are not paid for
    c.x[lead] = 4;
    if (regime == charging || regime == charging_weakly || regime == paying) {
      c.x[charging_current] = 0.02;
      c.x[target] = 5.5;
      c.x[begun] = 4;
      c.alarms[0] = ticks_per_second;
    }
    const Bench b(c, ohm(250));
    CHECK(b.lowest > 5 - 2 * band - series * amperes - 2e-4);
    CHECK(b.lowest < 5 - 2 * band);
    CHECK(b.count("holds") == 1);
    const bool starves = regime == charging || regime == charging_weakly;  // it fell under that
    CHECK(b.regime() == (starves ? "starved" : "discharging"));
    CHECK(b.v() == doctest::Approx(5 * 250 / (250 + series)).epsilon(1e-12));
    CHECK(b.c.alarms[0] == never);
    CHECK(b.c.x[charging_current] == 0);
    for (const auto& [time, name] : b.c.happened) CHECK(time == 0);
  }
}

TEST_CASE("capacitor (3), (5): discharge through a resistor") {
  // Closed form x0 exp(-t / ((R + Resr) C)): textbook.
  const double r = 10, tau = (r + series) * farad;
  Bench b(charged(5, discharging), ohm(r));
  b.pass(2 * tau, tau / 100);
  CHECK(relative_error(b.x(), 5 * std::exp(-2.0)) < 1e-6);
  CHECK(relative_error(-b.energy[0], farad / 2 * 25 * (1 - std::exp(-4.0))) < 1e-6);
  CHECK(relative_error(b.energy[1], -b.energy[0] * series / (r + series)) < 1e-6);
  CHECK(b.energy[2] == 0);
  CHECK(b.c.happened.empty());
}

TEST_CASE("capacitor (5): 470 uF at 5 V with 1 uA last 40 minutes") {
  // In closed form C V / I = 2350 s.
  const Net microampere = [](double v) { return std::clamp(v * 1e-3, -1e-6, 1e-6); };  // down to 1 mV
  Bench b(charged(5, discharging), microampere);
  CHECK(relative_error(b.c.rates()[voltage], -1e-6 / farad) < 1e-6);
  b.pass(2335, 5);
  CHECK(b.x() == doctest::Approx(5 - 2335e-6 / farad).epsilon(1e-6));
  CHECK(b.v() < 0.033);
  CHECK(b.regime() == "idle");      // so little that the net counts as at rest
  CHECK(b.c.happened.size() == 2);  // it settles and finds the net at rest
}

TEST_CASE("capacitor (4), (5): on its own, the leakage empties the store from within") {
  // x0 exp(-t / (Rleak C)), textbook; Rleak C is the insulation time.
  for (const Regime regime : {discharging, settled, idle}) {
    CAPTURE(regime);
    Bench b(charged(5, regime, leaking()), nothing());
    CHECK(b.regime() == "idle");
    b.pass(500, 5);
    CHECK(relative_error(b.x(), 5 * std::exp(-0.5)) < 1e-6);
    CHECK(relative_error(b.energy[2], farad / 2 * (25 - b.x() * b.x())) < 1e-6);
    CHECK(relative_error(-b.energy[0], b.energy[2]) < 1e-9);
    CHECK(std::abs(b.current()) < 1e-12);
    CHECK(b.regime() == "idle");
    CHECK(b.c.happened.size() <= 3);
  }
}

TEST_CASE("capacitor: a feed too weak for the charging current is halved until the store has followed") {
  // 5 V behind 1 kohm. Half of what the feed gives at the store's voltage leads to the middle between both, and takes
  // R C; from one stage to the next current and remaining rise halve.
  const double r = 1000, tau = r * farad;
  Bench b(capacitor(), feed(5, r));
  CHECK(b.c.happened.size() == 2);
  CHECK(b.c.happened.back().second == "feed is weak");
  CHECK(b.regime() == "charging weakly");
  double amperes = 5 / r / 2;
  CHECK(relative_error(b.c.x[charging_current], amperes) < 1e-3);
  CHECK(b.v() == doctest::Approx(2.5).epsilon(1e-3));
  for (int stage = 1; stage <= 4; ++stage) {
    CAPTURE(stage);
    b.pass((stage == 1 ? 0.99 : 0.98) * tau, tau / 500);
    CHECK(b.count("feed is weak") == stage);
    b.pass(0.02 * tau, tau / 500);
    CHECK(b.count("feed is weak") == stage + 1);
    CHECK(relative_error(b.c.x[charging_current], amperes / 2) < 0.01);
    CHECK(b.x() == doctest::Approx(5 - 5 / std::pow(2, stage)).epsilon(0.01));
    amperes /= 2;
  }
  // Below about C d/tc it is on its own, an RC circuit, until it has met the net.
  while (b.regime() == "charging weakly") b.pass(1e-2, 1e-3);
  CHECK(b.regime() == "idle");
  CHECK(b.lead() == 0);  // it lags, as a real one does
  CHECK(b.count("follows") == 0);
  const double left = 5 - b.x();
  CHECK(left / r < weak_current);
  b.pass(tau / 2, tau / 100);
  CHECK(5 - b.x() == doctest::Approx(left * std::exp(-0.5)).epsilon(1e-3));
  b.pass(4 * tau, tau / 100);
  CHECK(5 - b.x() < band);
  CHECK(b.hold_up() == Names{"settles in contact"});
  CHECK(b.regime() == "settled");
  b.pass(100, 10);
  CHECK(b.c.happened.size() < 12);
  CHECK(relative_error(b.energy[0], farad / 2 * b.x() * b.x()) < 1e-4);
}

TEST_CASE("capacitor: a feed that is just a small current charges it at that current") {
  // dx/dt = I/C; the law's own half currents must not make it slower by more than a factor of two.
  for (const double amperes : {1e-8, 3e-8, 1e-6, 0.5 * weak_current, 0.99 * weak_current, 1.5 * weak_current, 1e-3}) {
    CAPTURE(amperes);
    Bench b(charged(1, settled), limited(5, 0.01, amperes));
    b.pass(0.1 * farad / amperes, 0.0002 * farad / amperes);
    CHECK(b.lead() == 0);
    CHECK(b.x() - 1 < 0.1001);
    CHECK(b.x() - 1 > 0.0499);
    const double load = 1.1e-9;
    if (amperes < 0.6 * weak_current) CHECK(b.x() - 1 > 0.0998 * (1 - load / amperes));
    CHECK(b.c.happened.size() < 150);  // where halves are drawn, one for each meeting of 1 mV
  }
}

TEST_CASE("capacitor: an empty one comes to rest at any feed, however weak") {
  for (double amperes = 1e-9; amperes < 1; amperes *= 1.5) {
    CAPTURE(amperes);
    Bench b(capacitor(), limited(5, 100, amperes));
    CHECK(b.regime() != "fed");
    CHECK(b.current() > 0);
  }
}

TEST_CASE("capacitor: leakage as large as the smallest charging current does not keep it from coming to rest") {
  for (const double insulation : {10.0, 30.0, 100.0}) {  // aluminium electrolytics are as poor as 30 s: common practice
    for (double amperes = 0.01 * weak_current; amperes < 10 * weak_current; amperes *= 1.1) {
      CAPTURE(insulation);
      CAPTURE(amperes);
      Bench b(charged(4, settled, leaking(insulation)), limited(5, 1, amperes + 4.02 * farad / insulation));
      b.pass(1, 0.01);
      CHECK(b.x() > 4);
    }
  }
}

TEST_CASE("capacitor: in contact with a net that stands it settles, at the latest when R C holds the integration up") {
  const double tau = series * farad;
  for (const double idle_current : {0.0, 1e-6, 1e-4}) {  // drawn before the feed is back
    for (const double volts : {3.99, 4.0, 4.0001, 4.015}) {
      CAPTURE(idle_current);
      CAPTURE(volts);
      Bench b(charged(4, settled), [=](double v) { return std::clamp(v, 0.0, 1.0) * idle_current + v * 1e-9; });
      CHECK(b.regime() == "idle");
      b.pass(1e-3, 1e-3);
      b.become(stiff(volts));
      b.pass(30 * tau, tau / 10);
      CHECK(b.regime() == (volts < 4 ? "settled" : "idle"));  // it gave, and gives no more; or never did
      CHECK(b.hold_up() == Names{"settles in contact"});
      CHECK(b.regime() == "settled");
      CHECK(std::abs(b.x() - volts) < band);
    }
  }
  Bench weak(charged(3, settled), limited(4, 1, 1e-5));
  CHECK(weak.regime() == "idle");
  weak.pass(0.1, 0.01);
  weak.become(stiff(3.015));
  weak.pass(0.1, tau / 2);
  CHECK(weak.regime() == "idle");
  CHECK(weak.hold_up() == Names{"settles in contact"});
  CHECK(weak.regime() == "settled");
  const std::size_t events = weak.c.happened.size();
  weak.pass(100, 10);
  CHECK(weak.regime() == "settled");
  CHECK(weak.c.happened.size() == events);
}

TEST_CASE("capacitor: settled in contact it follows a feed that falls slowly, band by band") {
  Bench b(charged(4, settled), nothing());
  CHECK(b.regime() == "idle");
  b.become(feed(4, 2));
  for (double volts = 4; volts > 3; volts -= 0.001) {
    b.become(feed(volts, 2));
    if (b.regime() != "settled") {
      b.pass(1e-2, 1e-4);  // ten time constants
      b.hold_up();
    }
    CHECK(b.regime() == "settled");
    CHECK(std::abs(b.x() - volts) <= 1.05 * band);
  }
  CHECK(b.count("holds") <= 1.0 / band + 2);
  CHECK(b.count("holds") >= 1.0 / band / 1.1 - 1);
}

TEST_CASE("capacitor: a held-up integration changes nothing where the store is not in contact with a feed") {
  for (const Regime regime : {fed, charging, charging_weakly}) {
    CAPTURE(regime);
    Alone c = charged(5, regime);
    c.x[charging_current] = 0.02;
    c.x[target] = 5.5;
    c.x[begun] = 4;
    c.alarms[0] = ticks_per_second;
    const std::vector<double> x = c.x;
    c.fire("settles in contact");
    CHECK(c.x == x);
    CHECK(c.memory[0] == regime);
    CHECK(c.alarms[0] == ticks_per_second);
  }
  Bench rest(charged(5, idle, leaking()), nothing());
  rest.pass(500, 5);
  const double x = rest.x();
  CHECK(rest.hold_up() == Names{"settles in contact", "holds"});
  CHECK(rest.regime() == "idle");
  CHECK(rest.x() == x);
  CHECK(rest.c.x[begun] == x);

  Bench loaded(charged(5, discharging), ohm(250));
  const double v = loaded.v();
  CHECK(loaded.hold_up() == Names{"settles in contact"});  // the reset keeps off a store that is drawn from
  CHECK(loaded.regime() == "discharging");
  CHECK(loaded.v() == v);
  CHECK(loaded.lowest > v - 2 * band - 2e-4);
  for (const auto& [time, name] : loaded.c.happened) CHECK(time == 0);
}

TEST_CASE("capacitor: what comes in the round of a held-up integration stands") {
  Bench b(charged(4, settled), nothing());
  CHECK(b.regime() == "idle");
  Bench up = b, down = b;
  up.taken = stiff(5);
  CHECK(up.hold_up() == Names{"settles in contact", "charges", "follows"});
  CHECK(up.regime() == "paying");
  CHECK(up.c.alarms[0] == ticks_per_second / 10);
  down.taken = ohm(50);
  CHECK(down.hold_up() == Names{"settles in contact", "drawn again"});
  CHECK(down.regime() == "discharging");
}

TEST_CASE("capacitor: at rest it settles for good when it is as good as empty") {
  // x0 exp(-t / (Rleak C)) has fallen to nine tenths of the 20 mV band after Rleak C ln(5 / 0.018) = 5626.8 s.
  const double emptied = 1000 * std::log(5 / 0.018);
  Bench b(charged(5, settled, leaking()), nothing());
  b.pass(emptied - 2, 1);
  CHECK(b.count("settles empty") == 0);
  b.pass(4, 1);
  CHECK(b.count("settles empty") == 1);
  CHECK(b.regime() == "settled");
  CHECK(b.c.happened.size() == 2);  // at rest, settles empty

  // A net that a current pulls below zero calls upon it again, each time it has lost nine tenths of its voltage.
  Bench pulled(charged(0.018, settled), [](double) { return 1e-6; });
  pulled.pass(8, 0.01);
  CHECK(pulled.count("settles empty") == 1);
  CHECK(pulled.regime() == "idle");
  CHECK(pulled.c.x[begun] == doctest::Approx(0.0018).epsilon(0.01));

  for (const double x : {0.0, -0.1}) {  // there is nothing left to lose
    Alone empty = charged(x, idle);
    empty.x[begun] = x;
    CHECK(empty.due().empty());
  }
}

TEST_CASE("capacitor: a feed that breaks down before all is paid gives what it can, the next charge the rest") {
  Bench b(capacitor(), stiff(5));
  b.pass(0.04, 1e-3);
  const double x = b.x();
  CHECK(b.become(limited(5, 0.01, 1e-6)).empty());
  CHECK(b.u() - b.v() < band);
  CHECK(b.current() == doctest::Approx(1e-6).epsilon(0.01));
  b.pass(1, 0.01);
  CHECK(b.regime() == "fed");
  CHECK(b.x() - x == doctest::Approx(1e-6 * 0.06 / farad).epsilon(0.02));
  CHECK(b.u() == doctest::Approx(5 - band / 2).epsilon(1e-6));
  CHECK(b.become(stiff(5)).empty());
  CHECK(b.become(stiff(5.02)) == Names{"charges", "follows"});
  CHECK(b.c.x[charging_current] * charging_time == doctest::Approx(farad * (5.01 - b.x())).epsilon(1e-4));
  b.pass(0.1, 1e-3);
  CHECK(b.x() == doctest::Approx(5.02 - band / 2).epsilon(1e-6));
  CHECK(std::abs(b.lead()) < 1e-9);
}

TEST_CASE("capacitor: charging that meets a feed which breaks down at once starts again when it is back") {
  Bench b(capacitor(), feed(5, 100));  // its 47 ohm would lower it by more than half a band: no following
  CHECK(b.count("follows") == 0);
  b.pass(0.02, 1e-3);
  const double x = b.x();
  b.become(limited(5, 0.01, 1e-6));
  CHECK(b.regime() == "idle");
  b.pass(1, 0.01);
  CHECK(b.x() - x == doctest::Approx(1e-6 / farad).epsilon(0.01));
  b.become(stiff(5));
  CHECK(b.regime() == "paying");
  b.pass(0.1, 1e-3);
  CHECK(b.x() == doctest::Approx(5 - band / 2).epsilon(1e-6));
}

TEST_CASE(
    "capacitor: one whose feed breaks down under its charging asks for nothing for a quarter of the charging time") {
  Bench b(capacitor(), feed(5, 100));
  b.pass(0.02, 1e-3);
  CHECK(b.regime().rfind("charging", 0) == 0);
  const double u = b.u();
  b.become(ohm(250));
  CHECK(b.count("holds") == 1);
  CHECK(b.regime() == "starved");
  CHECK(b.current() == doctest::Approx(-b.v() / 250).epsilon(1e-9));  // it gives what is drawn
  CHECK(b.v() < u);
  b.become(stiff(5));  // and takes nothing
  CHECK(b.regime() == "starved");
  CHECK(b.current() == 0);
  b.pass(0.0249, 1e-3);
  CHECK(b.regime() == "starved");
  b.pass(0.0002, 1e-4);
  CHECK(b.count("tries again") == 1);
  CHECK(b.regime() == "paying");
  b.pass(0.2, 1e-3);
  CHECK(b.x() == doctest::Approx(5 - band / 2).epsilon(1e-6));
}

TEST_CASE("capacitor: a net that stands again a little lower takes charge back and is settled") {
  Bench b(charged(5, fed), stiff(4.97));
  CHECK(b.count("holds") == 1);
  CHECK(b.regime() == "discharging");
  const double tau = series * farad;
  b.pass(2 * tau, tau / 50);
  CHECK(relative_error(b.x() - 4.97, 0.03 * std::exp(-2.0)) < 1e-3);
  b.pass(40 * tau, tau / 5);
  CHECK(b.regime() == "settled");
  CHECK(std::abs(b.x() - 4.97) <= 1.001 * contact);
  b.pass(100, 10);
  CHECK(b.c.happened.size() == 2);
  CHECK(b.become(stiff(4.985)).empty());  // settled is as if fed
  CHECK(b.become(stiff(4.98999)).empty());
  CHECK(b.become(stiff(4.9901)) == Names{"charges", "follows"});
}

TEST_CASE("capacitor: a net at rest is not taken for a fed one, however often it is looked at") {
  Bench b(charged(0.05, discharging), ohm(50e6));  // 1 nA
  CHECK(b.count("settles") == 1);
  CHECK(b.count("holds") == 1);
  CHECK(b.regime() == "idle");
  CHECK(b.c.alarms[0] == never);
  const std::size_t events = b.c.happened.size();
  b.pass(1000, 10);
  CHECK(b.c.happened.size() == events);
  CHECK(b.hold_up() == Names{"settles in contact", "holds"});
  CHECK(b.regime() == "idle");
  CHECK(b.x() == doctest::Approx(0.05 * std::exp(-1000 / (50e6 * farad))).epsilon(1e-6));  // on its own, RC
  const auto draws = [&](double amperes) { return ohm(b.x() / amperes - series); };
  CHECK(b.become(draws(1.98 * quiet)).empty());                  // between settling and this there is a factor of two
  CHECK(b.become(draws(2.02 * quiet)) == Names{"drawn again"});  // the load wakes
  CHECK(b.regime() == "discharging");
  CHECK(b.become(draws(1.02 * quiet)).empty());
  b.become(ohm(50e6));
  CHECK(b.regime() == "idle");
}

TEST_CASE("capacitor: feed lost and the net runs down to nothing without chatter") {
  Bench b(charged(5, fed), ohm(1e4));
  const double tau = 1e4 * farad;
  b.pass(3 * tau, tau / 50);
  CHECK(b.x() == doctest::Approx(5 * std::exp(-3)).epsilon(1e-3));
  b.pass(22 * tau, tau / 50);
  CHECK(b.x() <= band);  // no net can tell it from an empty one
  const std::size_t events = b.c.happened.size();
  CHECK(events < 12);  // it is looked at again after each decade
  b.pass(1000, 10);
  CHECK(b.c.happened.size() == events);
}

TEST_CASE("capacitor: a feed that rises and falls slowly is followed with few events") {
  // A day's arch of light: a current behind a diode, its source's resistance, and a load that divides 7 V to 5 V.
  const auto light = [](double share) { return both(limited(7, 2e4, 2e-4 * share), ohm(5e4)); };
  Bench b(capacitor(), light(0));
  const double day = 20000, step = 20;
  double highest = 0;
  for (double t = 0; t < day; t += step) {
    b.become(light(std::sin(t / day * pi)));
    b.pass(step, 2);
    highest = std::max(highest, b.x());
    CHECK(std::abs(b.x() - b.v()) <= 2 * band);
  }
  CHECK(highest == doctest::Approx(5).epsilon(0.005));
  CHECK(b.c.happened.size() < 600);
}

TEST_CASE("capacitor: in any regime and any net events come to rest at once, and again after some time") {
  // Feeds from a regulator to a panel in moonlight, loads from a radio to nothing; settle() fails otherwise.
  Random random(20261125);
  const auto decades = [&](double low, double high) { return std::exp(random.between(std::log(low), std::log(high))); };
  CapacitorParameters leaky = electrolytic_470uf(), ceramic, slow;
  leaky.insulation_time = Duration{30.0};
  ceramic.capacitance = Capacitance{1e-7};
  ceramic.series_resistance = Resistance{0.005};
  ceramic.leakage_resistance = Resistance{1e9};
  slow.capacitance = Capacitance{1e-3};
  slow.series_resistance = Resistance{10.0};
  for (const CapacitorParameters& p : {electrolytic_470uf(), leaky, ceramic, slow}) {
    for (int i = 0; i < 3000; ++i) {
      const double volts = random.between(-0.5, 5.5), r = decades(1e-3, 1e7), limit = decades(1e-10, 1);
      Net net = limited(volts, r, limit);
      const double load = decades(10, 1e10);
      if (random.up_to(1) == 1) net = both(net, ohm(load));
      const Regime regimes[] = {fed, discharging, settled, idle};
      CAPTURE(p.capacitance.si());
      CAPTURE(volts);
      CAPTURE(r);
      CAPTURE(limit);
      Bench b(charged(random.between(0, 5.5), regimes[random.up_to(3)], capacitor(p)), net);
      const double fastest = p.capacitance.si() * (p.series_resistance.si() + 1 / (1 / r + 1 / load));
      b.pass(20 * std::min(fastest, 0.01), fastest);
      b.become(ohm(decades(10, 1e10)));
      b.become(net);
      CHECK(b.c.alarms[0] > b.c.now.utc);
    }
  }
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

TEST_CASE("capacitor: what the law cannot do is refused, its bounds are not") {
  // Beyond R C = tc an idle store in a weak feed and its charging cause each other for ever; beyond 0.1 A/V converters
  // of the usual kind never get through their start.
  CapacitorParameters p;
  p.capacitance = Capacitance{0.1};
  p.series_resistance = Resistance{10.0};
  p.charging_time = Duration{1.0};
  CHECK(build<Capacitor>(p).x.size() == 5);
  p.series_resistance = Resistance{10.1};
  CHECK(refused<Capacitor>(p) == Names{"charging_time"});
  p.series_resistance = Resistance{0.1};
  p.charging_time = Duration{0.99};
  CHECK(refused<Capacitor>(p) == Names{"charging_time"});
  CHECK(Capacitor::describe().field("tracking_band")->minimum->value == 1e-3);
  CHECK(Capacitor::describe().field("charging_time")->minimum->value == 10e-3);
}

TEST_CASE("capacitor (7), (8): a transient begins with the settled current, from every regime, and keeps the energy") {
  const struct {
    Regime regime;
    double v;  ///< of the net, the store being at 5 V
  } cases[] = {{fed, 4.992},         {fed, 4.955},     {charging, 5.2},  {charging, 5.0005}, {charging_weakly, 5.01},
               {discharging, 4.985}, {settled, 4.992}, {idle, 5 + 1e-5}, {idle, 5.01},       {idle, 5 - 1e-5},
               {paying, 5.009},      {paying, 4.9805}, {paying, 4.95}};
  for (const Alone& made : {capacitor(), leaking(30)}) {
    for (const auto& [regime, v] : cases) {
      for (const double unpaid : {0.0, 3.0, 7.0, -0.01}) {
        CAPTURE(regime);
        CAPTURE(v);
        CAPTURE(unpaid);
        Alone c = charged(5 - unpaid, regime, made);
        c.x[lead] = unpaid;
        c.x[charging_current] = regime == charging || regime == charging_weakly || regime == paying ? 0.02 : 0;
        c.alarms[0] = ticks_per_second;
        at(c, v);
        const double settled_current = into(c), energy = c.model->stored_energy(c.view());
        const std::vector<double> booked = c.enter_transient();
        CHECK(std::abs(into(c) - settled_current) < 1e-12);
        CHECK(c.model->stored_energy(c.view()) - energy == doctest::Approx(booked[0]).epsilon(1e-9));
        CHECK(booked[1] == -booked[0]);
        CHECK(booked[2] == 0);
        CHECK(c.x[lead] == unpaid);
        CHECK(c.output("voltage") == doctest::Approx(v - series * settled_current).epsilon(1e-12));
        CHECK(c.alarms[0] == never);
        CHECK(c.due().empty());
        const double inside = c.output("voltage");
        at(c, inside + 0.015);  // Ohm's law
        CHECK(into(c) == doctest::Approx(0.015 / series).epsilon(1e-9));
        CHECK(c.rates()[lead] == 0);
        c.x[voltage] -= 0.5;  // what happens in it
        c.leave_transient();
        CHECK(c.output("voltage") == doctest::Approx(inside - 0.5).epsilon(1e-12));
        CHECK(c.label("regime") == "discharging");
        CHECK(c.alarms[0] == never);
      }
    }
  }
}

TEST_CASE("capacitor (5): after a transient the next charge leaves nothing unpaid") {
  Bench b(capacitor(), stiff(5));
  b.pass(0.01, 1e-3);
  b.c.enter_transient();
  b.c.leave_transient();
  b.settle();
  const double tau = series * farad;
  b.pass(40 * tau, tau / 20);
  CHECK(b.u() == doctest::Approx(5).epsilon(1e-3));
  CHECK(b.x() < 0.6);
  b.become(ohm(250));
  b.pass(0.01, 1e-3);
  b.become(stiff(5));
  b.pass(0.2, 1e-3);
  CHECK(b.regime() == "fed");
  CHECK(b.x() == doctest::Approx(5 - band / 2).epsilon(1e-6));
  CHECK(std::abs(b.lead()) < 1e-9);
}

TEST_CASE("capacitor: what is missing in the instant of a switch-on") {
  Bench b(capacitor(), stiff(5));
  const auto missing = [&] { return b.c.table.missing_charge(*b.c.model, b.c.view()); };
  CHECK(missing() == doctest::Approx(farad * (5 - band / 2)).epsilon(1e-6));  // C V
  b.pass(0.2, 1e-3);
  CHECK(missing() == 0);
  b.become(stiff(5.4));
  CHECK(missing() == doctest::Approx(farad * 0.4).epsilon(1e-4));
  Bench weak(capacitor(), feed(5, 1000));
  CHECK(weak.c.table.missing_charge(*weak.c.model, weak.c.view()) == 0);
}
