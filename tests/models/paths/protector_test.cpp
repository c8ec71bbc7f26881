#include "models/paths/protector.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/protector_examples.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;
constexpr Tick millisecond = 1'000'000;

Alone started(const ProtectorParameters& p) {
  Alone a = build<Protector>(p);
  a.now.utc = 5 * ticks_per_second;
  a.start(Ambient{});
  return a;
}

/// Cell and pack against a ground pin that is not at zero.
void at(Alone& a, double cell, double pack) { a.z = {cell + 0.2, pack + 0.2, 0.2}; }

double current(Alone& a, double cell, double pack) {
  at(a, cell, pack);
  return a.output("current");
}

/// Rounds at the standing operating point; all events in order.
Names settle(Alone& a) {
  Names all;
  for (int i = 0; i < 10; ++i) {
    for (const std::string& name : a.round()) all.push_back(name);
  }
  return all;
}

/// Goes on to the next alarm and fires it; its name.
std::string wait(Alone& a) {
  const auto next = std::min_element(a.alarms.begin(), a.alarms.end());
  REQUIRE(*next != never);
  a.now.utc = *next;
  for (const Event& e : a.table.events) {
    if (e.alarm != next - a.alarms.begin()) continue;
    a.fire(e.name);
    return e.name;
  }
  return {};
}

bool nothing_pending(const Alone& a) {
  return std::all_of(a.alarms.begin(), a.alarms.end(), [](Tick t) { return t == never; });
}

Alone over_discharged(const ProtectorParameters& p) {
  Alone a = started(p);
  at(a, p.overdischarge_voltage.si() - 0.01, p.overdischarge_voltage.si() - 0.02);
  REQUIRE(settle(a) == Names{"over-discharge seen"});
  REQUIRE(wait(a) == "over-discharge trip");
  return a;
}

Alone over_current() {
  Alone a = started(protector_by_voltage());
  at(a, 3.7, 3.7 - 0.05 * 2.6);
  REQUIRE(settle(a) == Names{"over-current seen"});
  REQUIRE(wait(a) == "over-current trip");
  return a;
}

Alone over_charged() {
  Alone a = started(protector_by_voltage());
  at(a, 4.29, 4.30);
  REQUIRE(settle(a) == Names{"over-charge seen"});
  REQUIRE(wait(a) == "over-charge trip");
  return a;
}

/// Body diode in series with the 50 mohm of the rest.
double diode(double v) { return BodyDiode(Voltage{0.75}, Resistance{0.1})(v); }
constexpr double leak = 1e-6 / 20;

/// The pack voltage at which load, charger and protector agree, with the cell held. The currents into the parts grow
/// with the pack voltage, so there is one.
double solve_pack(Alone& protector, Alone& charger, Alone& load, double cell, double supply) {
  double low = -1, high = supply;
  for (int i = 0; i < 200; ++i) {
    const double pack = 0.5 * (low + high);
    protector.z = {cell, pack, 0};
    charger.z = {supply, pack, 0};
    load.z = {pack, 0};
    (protector.currents()[1] + charger.currents()[1] + load.currents()[0] > 0 ? high : low) = pack;
  }
  return low;
}

}  // namespace

TEST_CASE("protector (1): closed, both ways") {
  Alone a = started(protector_by_voltage());
  CHECK(relative_error(current(a, 3.7, 3.65), 1.0) < 1e-12);
  CHECK(relative_error(current(a, 3.7, 3.705), -0.1) < 1e-12);
  CHECK(a.label("state") == "closed");
  CHECK(relative_error(a.flow("series"), 0.05 * 0.01) < 1e-12);
  CHECK(a.flow("body_diode") == 0);
  CHECK(a.flow("leakage") == 0);
  CHECK(a.due().empty());
}

TEST_CASE("protector (6): own consumption") {
  Alone a = started(protector_by_voltage());
  at(a, 3.7, 3.7);
  const double share = 3.7 / std::sqrt(3.7 * 3.7 + 0.09);
  CHECK(relative_error(a.currents()[0], 4e-6 * share) < 1e-12);
  CHECK(relative_error(a.currents()[2], -4e-6 * share) < 1e-12);
  CHECK(a.currents()[1] == 0);
  CHECK(relative_error(a.flow("consumption"), 3.7 * 4e-6 * share) < 1e-12);
  Alone down = over_discharged(protector_by_charge());
  at(down, 2.5, 2.5);
  CHECK(relative_error(down.currents()[0], 0.1e-6 * 2.5 / std::sqrt(2.5 * 2.5 + 0.09)) < 1e-12);
  at(down, 0, 0);
  CHECK(down.currents() == std::vector<double>{0, 0, 0});
}

TEST_CASE("protector (2): after over-discharge the load gets nothing, the cell is still charged through the diode") {
  Alone a = over_discharged(protector_by_voltage());
  CHECK(a.label("state") == "over-discharge");
  CHECK(relative_error(current(a, 2.3, 0), 2.3 * leak - diode(-2.3)) < 1e-9);
  CHECK(a.output("current") < 0.2e-6);
  const double v = 0.9, i = current(a, 2.3, 2.3 + v);
  CHECK(relative_error(i, -diode(v) - v * leak) < 1e-9);
  CHECK(i < -1.0);
  // (7): what the diode leaves to the series resistance, and the rest.
  CHECK(relative_error(a.flow("series"), 0.05 * diode(v) * diode(v)) < 1e-9);
  CHECK(relative_error(a.flow("body_diode"), v * diode(v) - 0.05 * diode(v) * diode(v)) < 1e-9);
  CHECK(relative_error(a.flow("leakage"), v * v * leak) < 1e-9);
}

TEST_CASE("protector (3): after over-charge the cell is not charged, the load is fed through the diode") {
  Alone a = over_charged();
  CHECK(a.label("state") == "over-charge");
  CHECK(current(a, 4.29, 5.29) > -1e-7);
  CHECK(relative_error(current(a, 4.29, 4.29 - 0.9), diode(0.9) + 0.9 * leak) < 1e-9);
}

TEST_CASE("protector (4): both sides off, only leakage either way") {
  Alone a = over_charged();
  at(a, 4.2, 4.2 - 1.3);  // 5.5 A through the charge transistor's diode
  CHECK(settle(a) == Names{"over-current seen"});
  CHECK(wait(a) == "over-current trip");
  CHECK(a.label("state") == "both sides off");
  CHECK(relative_error(current(a, 4.2, 0), 4.2 * (leak + 1 / 50e3)) < 1e-12);
  CHECK(relative_error(current(a, 4.2, 6.2), -2 * (leak + 1 / 50e3)) < 1e-12);
  CHECK(a.flow("body_diode") == 0);
  at(a, 2.0, 0);
  CHECK(settle(a) == Names{"over-charge release seen", "over-discharge seen"});
  a.alarms[0] = a.alarms[1] = never;  // the cell stays over-charged for this test's sake
  CHECK(wait(a) == "over-discharge trip");
  CHECK(a.label("state") == "both sides off");
  CHECK(relative_error(current(a, 2.0, 0), 2.0 * leak) < 1e-12);
}

TEST_CASE("protector (5): the release resistance lies across the switch after over-current only") {
  Alone a = over_current();
  CHECK(a.label("state") == "over-current");
  CHECK(relative_error(current(a, 3.7, 1.7), 2.0 * (leak + 1 / 50e3)) < 1e-3);
  CHECK(relative_error(a.flow("leakage"), 4.0 * (leak + 1 / 50e3)) < 1e-12);
}

TEST_CASE("protector: over-discharge trips after its delay, and not before") {
  Alone a = started(protector_by_voltage());
  at(a, 2.401, 2.39);
  CHECK(a.due().empty());
  at(a, 2.4, 2.39);
  CHECK(a.round() == Names{"over-discharge seen"});
  CHECK(a.due().empty());
  CHECK(a.label("state") == "closed");
  const Tick seen = a.now.utc;
  CHECK(wait(a) == "over-discharge trip");
  CHECK(a.now.utc - seen == 100 * millisecond);
  CHECK(a.label("state") == "over-discharge");
  CHECK(nothing_pending(a));
  CHECK(a.due().empty());
}

TEST_CASE("protector: a sag shorter than the delay does not trip") {
  Alone a = started(protector_by_voltage());
  at(a, 2.3, 2.2);
  a.round();
  at(a, 2.4005, 2.39);  // within the comparator's hysteresis
  CHECK(a.due().empty());
  at(a, 2.402, 2.39);
  CHECK(a.round() == Names{"over-discharge passed"});
  CHECK(nothing_pending(a));
  CHECK(a.due().empty());
  a.now.utc += 3 * ticks_per_second;
  at(a, 2.3, 2.2);
  CHECK(a.round() == Names{"over-discharge seen"});
  CHECK(*std::min_element(a.alarms.begin(), a.alarms.end()) == a.now.utc + 100 * millisecond);
}

TEST_CASE("protector: release by voltage alone, after its delay") {
  Alone a = over_discharged(protector_by_voltage());
  at(a, 2.99, 0);
  CHECK(a.due().empty());
  at(a, 3.0 + 1e-9, 0);
  CHECK(a.round() == Names{"over-discharge release seen"});
  at(a, 2.9, 0);
  CHECK(a.round() == Names{"over-discharge release passed"});
  CHECK(nothing_pending(a));
  at(a, 3.1, 0);
  CHECK(a.round() == Names{"over-discharge release seen"});
  const Tick seen = a.now.utc;
  CHECK(wait(a) == "over-discharge release");
  CHECK(a.now.utc - seen == 2 * millisecond);
  CHECK(a.label("state") == "closed");
  CHECK(nothing_pending(a));
}

TEST_CASE("protector: release by charge needs a charger, at whatever cell voltage") {
  Alone a = over_discharged(protector_by_charge());
  at(a, 3.9, 0);  // the cell has recovered, nobody charges it
  CHECK(a.due().empty());
  at(a, 3.9, 3.9);
  CHECK(a.due().empty());
  at(a, 3.0, 3.0 + 0.299);
  CHECK(a.due().empty());
  at(a, 2.79, 2.79 + 0.6);  // charged, but below the bound: it stays and is charged through the diode
  CHECK(a.due().empty());
  CHECK(a.output("current") < -1e-3);
  at(a, 2.81, 2.81 + 0.6);
  CHECK(a.round() == Names{"over-discharge release seen"});
  at(a, 2.81, 2.9);
  CHECK(a.round() == Names{"over-discharge release passed"});
  at(a, 2.81, 2.81 + 0.6);
  a.round();
  CHECK(wait(a) == "over-discharge release");
  CHECK(a.label("state") == "closed");
}

TEST_CASE("protector: the bound of release by charge may lie above the trip voltage") {
  ProtectorParameters p = protector_by_charge();
  p.charging_release = Voltage{3.0};
  Alone a = over_discharged(p);
  at(a, 2.9, 2.9 + 0.6);
  CHECK(a.due().empty());
  at(a, 3.0 + 1e-9, 3.0 + 0.6);
  CHECK(a.round() == Names{"over-discharge release seen"});
}

TEST_CASE("protector: a charger weaker than the load on the pack never releases one that waits for charging") {
  // Common practice: a charger in pre-charge gives a tenth of its current; with a load of more on the pack net all of
  // it goes there, and the cell stays locked out. The same part with release by voltage needs no charger.
  LinearChargerParameters c = charger_100ma();
  Alone charger = build<LinearCharger>(c);
  charger.start(Ambient{});
  charger.z = {6, 2, 0};
  REQUIRE(charger.round() == Names{"pre-charge begins"});  // 10 mA
  Alone weak = build<Load>(current_load(0.005)), strong = build<Load>(current_load(0.02));
  weak.start(Ambient{});
  strong.start(Ambient{});

  Alone locked = over_discharged(protector_by_charge());
  for (double cell = 2.0; cell < 3.6; cell += 0.05) {
    CHECK(solve_pack(locked, charger, strong, cell, 6) < cell);
    CHECK(locked.output("current") > 0);  // leakage out of the cell, nothing into it
    CHECK(locked.due().empty());
  }
  const double pack = solve_pack(locked, charger, weak, 2.9, 6);
  CHECK(pack > 2.9 + 0.5);
  CHECK(relative_error(-locked.output("current"), 0.005) < 0.02);
  CHECK(locked.due() == Names{"over-discharge release seen"});
}

TEST_CASE("protector: over-charge trips after its delay and is released by voltage") {
  Alone a = started(protector_by_voltage());
  at(a, 4.28, 4.30);
  CHECK(a.round() == Names{"over-charge seen"});
  at(a, 4.278, 4.30);
  CHECK(a.round() == Names{"over-charge passed"});
  CHECK(nothing_pending(a));
  at(a, 4.29, 4.30);
  a.round();
  const Tick seen = a.now.utc;
  CHECK(wait(a) == "over-charge trip");
  CHECK(a.now.utc - seen == 1000 * millisecond);
  CHECK(a.due().empty());
  at(a, 4.09, 4.30);
  CHECK(a.due().empty());
  at(a, 4.07, 4.30);
  CHECK(a.round() == Names{"over-charge release seen"});
  at(a, 4.09, 4.30);
  CHECK(a.round() == Names{"over-charge release passed"});
  at(a, 4.07, 4.0);
  a.round();
  CHECK(wait(a) == "over-charge release");
  CHECK(a.label("state") == "closed");
  CHECK(nothing_pending(a));
}

TEST_CASE("protector: over-current trips after its delay; a shorter burst does not") {
  Alone a = started(protector_by_voltage());
  at(a, 3.7, 3.7 - 0.05 * 2.49);
  CHECK(a.due().empty());
  at(a, 3.7, 3.7 - 0.05 * 2.51);
  CHECK(a.round() == Names{"over-current seen"});
  at(a, 3.7, 3.7 - 0.05 * 2.47);
  CHECK(a.round() == Names{"over-current passed"});
  CHECK(nothing_pending(a));
  at(a, 3.7, 3.7 + 0.05 * 2.6);  // charging this strongly is not watched
  CHECK(a.due().empty());
  at(a, 3.7, 3.7 - 0.05 * 2.51);
  a.round();
  const Tick seen = a.now.utc;
  CHECK(wait(a) == "over-current trip");
  CHECK(a.now.utc - seen == 10 * millisecond);
}

TEST_CASE("protector: over-current ends when the load is gone for the retry time, or by a charger") {
  Alone a = over_current();
  // A load of 100 kohm divides the cell with the release resistance: it counts as still there. 2 Mohm does not.
  at(a, 3.7, 3.7 * 100 / 150);
  CHECK(a.due().empty());
  at(a, 3.7, 3.7 * 2000 / 2050);
  CHECK(a.round() == Names{"over-current release seen"});
  at(a, 3.7, 3.7 * 100 / 150);
  CHECK(a.round() == Names{"over-current release passed"});
  at(a, 3.7, 4.3);
  CHECK(a.round() == Names{"over-current release seen"});
  const Tick seen = a.now.utc;
  CHECK(wait(a) == "over-current release");
  CHECK(a.now.utc - seen == 5 * millisecond);
  CHECK(a.label("state") == "closed");
  CHECK(nothing_pending(a));
}

TEST_CASE("protector: over-discharge goes on being watched after over-current, and takes over") {
  Alone a = over_current();
  at(a, 2.3, 2.3);
  CHECK(a.round() == Names{"over-current release seen", "over-discharge seen"});
  CHECK(wait(a) == "over-current release");
  CHECK(wait(a) == "over-discharge trip");
  CHECK(a.label("state") == "over-discharge");
  Alone b = over_current();
  at(b, 2.3, 0);
  CHECK(b.round() == Names{"over-discharge seen"});
  at(b, 2.3, 2.3);
  b.now.utc += 99 * millisecond;
  CHECK(b.round() == Names{"over-current release seen"});
  CHECK(wait(b) == "over-discharge trip");
  CHECK(b.label("state") == "over-discharge");
  CHECK(nothing_pending(b));
}

TEST_CASE("protector: where a trip is due in the very round in which its condition goes away, the trip stands") {
  Alone a = started(protector_by_voltage());
  at(a, 2.3, 2.2);
  a.round();
  at(a, 2.6, 2.6);
  std::size_t passed = 0, trip = 0;
  for (std::size_t i = 0; i < a.table.events.size(); ++i) {
    if (a.table.events[i].name == "over-discharge passed") passed = i;
    if (a.table.events[i].name == "over-discharge trip") trip = i;
  }
  CHECK(passed < trip);  // resets of one round run in this order
  a.fire("over-discharge passed");
  a.fire("over-discharge trip");
  CHECK(a.label("state") == "over-discharge");
  CHECK(nothing_pending(a));
}

TEST_CASE("protector: what its events mean for the service") {
  const Alone a = started(protector_by_voltage());
  const auto role = [&](const char* name) { return a.event(name).role; };
  CHECK(role("over-discharge trip") == EventRole::cut);
  CHECK(role("over-current trip") == EventRole::cut);
  CHECK(role("over-discharge release") == EventRole::restored);
  CHECK(role("over-current release") == EventRole::restored);
  CHECK(role("over-charge trip") == EventRole::none);
  CHECK(role("over-charge release") == EventRole::none);
  for (const Event& e : a.table.events) CHECK(e.routine == (e.alarm < 0));
}

TEST_CASE("protector: the margin to over-discharge counts while discharge is allowed") {
  Alone a = started(protector_by_voltage());
  at(a, 3.0, 3.0);
  CHECK(a.margin("over-discharge") == doctest::Approx(0.6));
  CHECK(std::isinf(over_discharged(protector_by_voltage()).margin("over-discharge")));
  CHECK(std::isinf(over_current().margin("over-discharge")));
}

TEST_CASE("protector: findings") {
  const auto fault = [](auto change) {
    ProtectorParameters p = protector_by_charge();
    change(p);
    const Names keys = refused<Protector>(p);
    return keys.size() == 1 ? keys[0] : std::to_string(keys.size()) + " findings";
  };
  using P = ProtectorParameters;
  CHECK(fault([](P& p) { p.overdischarge_release = p.overdischarge_voltage; }) == "overdischarge_release");
  CHECK(fault([](P& p) { p.overdischarge_release = Voltage{4.4}; }) == "overdischarge_release");
  CHECK(fault([](P& p) { p.overcharge_release = p.overcharge_voltage; }) == "overcharge_release");
  CHECK(fault([](P& p) { p.charging_release = Voltage{2.7}; }) == "charging_release");
  CHECK(fault([](P& p) { p.charging_release = Voltage{4.3}; }) == "charging_release");
  CHECK(fault([](P& p) { p.charger_detection = Voltage{0.8}; }) == "charger_detection");
  CHECK(fault([](P& p) { p.tripped_consumption = Current{5e-6}; }) == "tripped_consumption");
}
