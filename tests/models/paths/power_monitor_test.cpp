#include "models/paths/power_monitor.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/reading.hpp"
#include "tests/models/support/alone.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

/// Against a ground that is not at zero.
void at(Alone& m, double bus, double amperes, double supply = 3.3, double shunt = 0.1) {
  m.z = {bus + 0.25 + amperes * shunt, bus + 0.25, supply + 0.25, 0.25};
}

}  // namespace

TEST_CASE("power monitor (1): Ohm's law in the path, both ways, supplied or not") {
  Alone m = build<PowerMonitor>(PowerMonitorParameters{});
  for (const double supply : {0.0, 3.3}) {
    for (const double amperes : {-0.5, 0.0, 0.001, 2.0}) {
      at(m, 3.7, amperes, supply);
      CHECK(m.currents()[0] == doctest::Approx(amperes).epsilon(1e-9).scale(1e-12));
      CHECK(m.currents()[1] == -m.currents()[0]);
    }
  }
}

TEST_CASE("power monitor (4): own consumption, resistive below the lowest supply") {
  Alone m = build<PowerMonitor>(PowerMonitorParameters{});
  const auto own = [&](double v) {
    at(m, 3.7, 0.1, v);
    CHECK(m.currents()[3] == -m.currents()[2]);
    return m.currents()[2];
  };
  CHECK(own(1.051 * 2.7) == 0.5e-3);
  CHECK(own(5.5) == 0.5e-3);
  CHECK(own(2.7) == doctest::Approx(0.9875 * 0.5e-3).epsilon(1e-12));  // the rounded corner
  for (const double v : {-2.7, -1.0, 0.0, 0.9, 2.55}) {
    CHECK(own(v) == doctest::Approx(0.5e-3 * v / 2.7).epsilon(1e-12).scale(1e-15));
  }
}

TEST_CASE("power monitor (2), (3): readings, to their resolution") {
  Alone m = build<PowerMonitor>(PowerMonitorParameters{});
  at(m, 3.7021, 0.10004);
  CHECK(m.output("voltage") == doctest::Approx(3.704).epsilon(1e-12));  // 925.5 steps of 4 mV up to 926
  CHECK(m.output("current") == doctest::Approx(0.1).epsilon(1e-12));
  at(m, 3.7019, 0.10006);
  CHECK(m.output("voltage") == doctest::Approx(3.7).epsilon(1e-12));
  CHECK(m.output("current") == doctest::Approx(0.1001).epsilon(1e-12));
  at(m, 3.7, -0.02);
  CHECK(m.output("current") == doctest::Approx(-0.02).epsilon(1e-12));
}

TEST_CASE("power monitor (2), (3): gain error and offsets") {
  PowerMonitorParameters p;
  p.voltage_step = p.shunt_step = Voltage{0.0};
  p.gain_error = 0.01;
  p.voltage_offset = Voltage{-0.006};
  p.shunt_offset = Voltage{40e-6};
  Alone m = build<PowerMonitor>(p);
  at(m, 3.7, 0.1);
  CHECK(m.output("voltage") == doctest::Approx(1.01 * 3.7 - 0.006).epsilon(1e-12));
  CHECK(m.output("current") == doctest::Approx(1.01 * 0.1 + 40e-6 / 0.1).epsilon(1e-9));
  at(m, 0, 0);
  CHECK(m.output("voltage") == doctest::Approx(-0.006).epsilon(1e-12));
  CHECK(m.output("current") == doctest::Approx(400e-6).epsilon(1e-12));
  CHECK(m.currents()[0] == 0);
}

TEST_CASE("power monitor: the line carries the voltage with its errors, noise and rounding still to come") {
  PowerMonitorParameters p;
  p.voltage_offset = Voltage{0.0015};
  p.voltage_noise = Voltage{0.003};
  p.noise_seed = 42;
  Alone m = build<PowerMonitor>(p);
  at(m, 3.7, 0.1);
  const std::vector<double> line = m.line_output("voltage");
  CHECK(line[0] == doctest::Approx(3.7015).epsilon(1e-12));
  CHECK(line[1] == 0.003);
  CHECK(line[2] == 0.004);
  CHECK(line[3] == 42);
  CHECK(m.output("voltage") == Reading::from(line.data()).read(0));
}

TEST_CASE("power monitor: without its supply it shows zero, without noise") {
  PowerMonitorParameters p;
  p.voltage_offset = Voltage{0.05};
  p.voltage_noise = Voltage{0.02};
  p.shunt_offset = Voltage{1e-3};
  Alone m = build<PowerMonitor>(p);
  for (const double supply : {0.0, 2.7 - 1e-9}) {
    at(m, 3.7, 0.1, supply);
    CHECK(m.output("voltage") == 0);
    CHECK(m.output("current") == 0);
    CHECK(Reading::from(m.line_output("voltage").data()).read(3) == 0);
  }
  at(m, 3.7, 0.1, 2.7 + 1e-9);
  CHECK(m.output("voltage") > 3.7);
}

TEST_CASE("power monitor: energy ledger") {
  PowerMonitorParameters p;
  p.shunt = Resistance{0.5};
  Alone m = build<PowerMonitor>(p);
  at(m, 3.7, -0.2, 3.3, 0.5);
  CHECK(m.flow("shunt") == doctest::Approx(0.5 * 0.04).epsilon(1e-9));
  CHECK(m.flow("consumption") == doctest::Approx(3.3 * 0.5e-3).epsilon(1e-12));
  at(m, 3.7, 0, 2.55, 0.5);
  CHECK(m.flow("shunt") == 0);
  CHECK(m.flow("consumption") == doctest::Approx(0.5e-3 * 2.55 * 2.55 / 2.7).epsilon(1e-12));
}
