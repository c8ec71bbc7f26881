#include "models/loads/load.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;

Alone running(const LoadParameters& p) {
  Alone load = build<Load>(p);
  load.start(Ambient{});
  return load;
}

double current(Alone& load, double voltage) {
  load.z = {voltage + 0.1, 0.1};
  const std::vector<double> f = load.currents();
  CHECK(f[0] == -f[1]);
  CHECK(f[0] == load.output("current"));
  CHECK(load.flow("used") == doctest::Approx(voltage * f[0]).epsilon(1e-14));
  return f[0];
}

LoadParameters scheduled(std::vector<double> hours, std::vector<double> levels) {
  LoadParameters p = current_load(0.02);
  for (double& h : hours) h *= 3600;
  p.daily = Curve(std::move(hours), std::move(levels), Interpolation::step, Outside::hold);
  return p;
}

}  // namespace

TEST_CASE("load (1): resistive at every voltage") {
  Alone load = running(resistance_load(100));
  for (const double v : {-2.0, 0.0, 1.0, 4.0}) CHECK(current(load, v) == doctest::Approx(v / 100));
}

TEST_CASE("load (2), (4): constant current, resistive below the supply range") {
  Alone load = running(current_load(0.02));
  CHECK(current(load, 4.0) == 0.02);
  CHECK(current(load, 2.63) == 0.02);
  CHECK(current(load, 1.25) == doctest::Approx(0.01));
  CHECK(current(load, 0.0) == 0);
  CHECK(current(load, -2.5) == doctest::Approx(-0.02));
}

TEST_CASE("load (3), (4): constant power, resistive below the supply range") {
  Alone load = running(power_load(0.08));
  CHECK(current(load, 4.0) == doctest::Approx(0.02));
  CHECK(current(load, 3.2) == doctest::Approx(0.025));
  CHECK(current(load, 1.25) == doctest::Approx(0.08 * 1.25 / 6.25));
  CHECK(current(load, -1.25) == doctest::Approx(-0.016));
}

TEST_CASE("load (4): the corner at the lower end of the supply range is rounded within 5 %") {
  // share of Vmin: (0.95, 0.95), (1, 1 - 0.05^2 / 0.2), (1.025, 1.025 - 0.075^2 / 0.2), (1.05, 1)
  const struct { double u, share; } rows[] = {{0.95, 0.95}, {1, 0.9875}, {1.025, 0.996875}, {1.05, 1}};
  Alone ampere = running(current_load(0.02)), watt = running(power_load(0.08));
  for (const auto& row : rows) {
    CAPTURE(row.u);
    const double v = 2.5 * row.u;
    CHECK(current(ampere, v) == doctest::Approx(0.02 * row.share).epsilon(1e-9));
    CHECK(current(watt, v) == doctest::Approx(0.08 * row.share * row.share / v).epsilon(1e-9));
  }
}

TEST_CASE("load (4): no jump and no kink at the lower end of the supply range") {
  for (const LoadParameters& p : {current_load(0.02), power_load(0.08)}) {
    Alone load = running(p);
    const double sharp = p.kind == LoadKind::current ? 0.008 : 0.0256;  // A/V, kink of the unrounded corner
    for (const double v : {0.9 * 2.5, 0.95 * 2.5, 2.5, 1.05 * 2.5}) {
      CAPTURE(v);
      CHECK(std::abs(current(load, v + 1e-9) - current(load, v - 1e-9)) < 1e-10);
      const double after = (current(load, v + 1e-4) - current(load, v)) / 1e-4;
      const double before = (current(load, v) - current(load, v - 1e-4)) / 1e-4;
      CHECK(std::abs(after - before) < 0.01 * sharp);
    }
  }
}

TEST_CASE("load: the schedule sets the level and the next alarm, on the clock of the site") {
  const LoadParameters p = scheduled({0, 6, 20}, {0.5, 1, 0});
  Alone load = build<Load>(p);
  const auto start_at = [&](Tick utc, Tick offset) {
    load.now = {utc, offset};
    load.start(Ambient{});
    return current(load, 4.0);
  };
  CHECK(start_at(0, 0) == 0.01);
  CHECK(load.alarms[0] == 6 * hour);
  CHECK(start_at(6 * hour - 1, 0) == 0.01);
  CHECK(load.alarms[0] == 6 * hour);
  CHECK(start_at(6 * hour, 0) == 0.02);
  CHECK(load.alarms[0] == 20 * hour);
  CHECK(start_at(23 * hour, 0) == 0);
  CHECK(load.alarms[0] == 24 * hour);
  CHECK(start_at(0, 7 * hour) == 0.02);  // seven in the morning there
  CHECK(load.alarms[0] == 13 * hour);
  CHECK(start_at(0, -2 * hour) == 0);  // ten in the evening of the day before
  CHECK(load.alarms[0] == 2 * hour);
}

TEST_CASE("load: a day of alarms visits every level once and comes back") {
  Alone load = build<Load>(scheduled({0, 6, 6.5, 20}, {0, 1, 3, 0.25}));
  const Tick first = 400 * ticks_per_day + 30 * ticks_per_second;
  load.now = {first, 0};
  load.start(Ambient{});
  std::vector<double> levels;
  for (int i = 0; i < 5; ++i) {
    CHECK(load.alarms[0] > load.now.utc);
    load.now.utc = load.alarms[0];
    load.fire("level change");
    levels.push_back(current(load, 4.0) / 0.02);
    CHECK(load.memory[0] >= 0);
    CHECK(load.memory[0] < 4);
  }
  CHECK(levels == std::vector<double>{1, 3, 0.25, 0, 1});
  CHECK(load.now.utc == 401 * ticks_per_day + 6 * hour);
}

TEST_CASE("load: without a schedule, and with a single level, nothing is due") {
  CHECK(running(current_load(0.02)).alarms[0] == never);
  Alone load = running(scheduled({0}, {2}));
  CHECK(load.alarms[0] == never);
  CHECK(current(load, 4.0) == 0.04);
}

TEST_CASE("load: the level scales all three laws") {
  for (LoadParameters p : {resistance_load(100), current_load(0.02), power_load(0.08)}) {
    Alone full = running(p);
    p.daily = Curve({0}, {0.25}, Interpolation::step, Outside::hold);
    Alone quarter = running(p);
    for (const double v : {1.0, 4.0}) CHECK(current(quarter, v) == doctest::Approx(current(full, v) / 4));
  }
}

TEST_CASE("load: supply too low, but only while it is on") {
  Alone load = running(scheduled({0, 6}, {1, 0}));
  load.z = {2.51, 0};
  CHECK_FALSE(load.due("supply too low"));
  load.z = {2.5, 0};
  CHECK(load.due("supply too low"));
  load.z = {2.0, 0};
  CHECK(load.guard("supply too low") == doctest::Approx(0.5));
  load.now = {7 * hour, 0};
  load.start(Ambient{});
  CHECK_FALSE(load.due("supply too low"));
}

TEST_CASE("load: draws nothing while its enable line is low, and is on where none is connected") {
  for (const LoadParameters& p : {resistance_load(100), current_load(0.02), power_load(0.08)}) {
    Alone load = running(p);
    REQUIRE(std::isnan(load.line[0]));
    for (const double v : {-1.0, 1.0, 4.0}) {
      load.line[0] = std::numeric_limits<double>::quiet_NaN();
      const double on = current(load, v);
      CHECK(on * v > 0);
      load.line[0] = 1;
      CHECK(current(load, v) == on);
      load.line[0] = 0;
      CHECK(current(load, v) == 0);
      CHECK_FALSE(load.due("supply too low"));
    }
  }
  Alone scheduled_off = running(scheduled({0, 6}, {0, 1}));
  scheduled_off.line[0] = 1;  // enabled is not yet on
  CHECK(current(scheduled_off, 4.0) == 0);
}

TEST_CASE("load: findings") {
  using Keys = std::vector<std::string>;
  CHECK(refused<Load>(LoadParameters{}) == Keys{"kind"});
  LoadParameters p = current_load(0.02);
  p.power = Power{0.1};
  CHECK(refused<Load>(p) == Keys{"power"});
  p.kind = LoadKind::resistance;
  CHECK(refused<Load>(p) == Keys{"current", "power"});
  CHECK(refused<Load>(scheduled({1, 6}, {1, 0})) == Keys{"daily"});
}

TEST_CASE("load: stuck on it does not listen to its line, stuck off it draws nothing") {
  for (const LoadParameters& p : {current_load(0.02), power_load(0.5), resistance_load(150)}) {
    Alone free = running(p), on = running(faulty<Load>(p, "stuck-on")), off = running(faulty<Load>(p, "stuck-off"));
    const double full = current(free, 5);
    for (Alone* load : {&on, &off}) load->line[0] = 0;
    CHECK(current(on, 5) == full);
    CHECK(current(off, 5) == 0);
    off.line[0] = 1;
    CHECK(current(off, 5) == 0);
  }
}
