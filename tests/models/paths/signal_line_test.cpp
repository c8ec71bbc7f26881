#include "models/paths/signal_line.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/models/support/near.hpp"
#include "tests/models/support/signal_examples.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

Alone line_of(double ohms, int lines = 1, double clamp = 0.6) {
  SignalLineParameters p;
  p.resistance = Resistance{ohms};
  p.lines = lines;
  p.clamp_voltage = Voltage{clamp};
  return build<SignalLine>(p);
}

double current(Alone& line, double from, double to) {
  line.z = {from, to};
  return line.currents()[0];
}

}  // namespace

// Common practice, by Kirchhoff's voltage law: (3.3 V - 0.6 V) over the pull-up; 0.57 mA and 0.27 mA a line, to the two
// digits in which they are told.
TEST_CASE("signal line (1): pull-ups of 3.3 V into an unpowered part") {
  Alone one = line_of(4700), ten = line_of(10e3), two = line_of(4700, 2);
  CHECK(std::abs(current(one, 3.3, 0) - 0.57e-3) < 0.005e-3);
  CHECK(std::abs(current(ten, 3.3, 0) - 0.27e-3) < 0.005e-3);
  CHECK(relative_error(current(one, 3.3, 0), 2.7 / 4700) < 1e-9);
  CHECK(relative_error(current(two, 3.3, 0), 2 * 2.7 / 4700) < 1e-9);
  CHECK(one.output("current") == one.currents()[0]);
}

// An unpowered supply that nothing loads floats at the bus voltage less the clamp diode: 2.7 V from 3.3 V, where
// phantom supplies of 1.7 V to 2.84 V have been reported (common practice).
TEST_CASE("signal line (1): an unloaded supply floats a clamp diode below the line") {
  Alone line = line_of(4700, 2);
  double low = 0, high = 3.3;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (current(line, 3.3, middle) > middle / 1e6 ? low : high) = middle;
  }
  CHECK(low == doctest::Approx(2.75).epsilon(0.02));
  CHECK(low > 1.7);
  CHECK(low < 2.84);
}

// 10 to 100 uA through a divider's upper resistor: common practice.
TEST_CASE("signal line (1): a divider whose lower resistor is off") {
  Alone divider = line_of(100e3);
  CHECK(relative_error(current(divider, 4.2, 0), 3.6 / 100e3) < 1e-9);
}

TEST_CASE("signal line: nothing at zero, next to nothing backwards, rising throughout") {
  Alone line = line_of(1000);
  CHECK(current(line, 2.5, 2.5) == 0);
  double before = -1;
  for (double v = -6; v <= 6; v += 0.01) {
    const double now = current(line, v, 0);
    CHECK(now >= before);
    if (v < 0) CHECK(now > -1e-13);
    CHECK(now <= std::max(0.0, v) / 1000);
    before = now;
  }
  CHECK(current(line, 3.0, 0) == doctest::Approx(current(line, 5.0, 2.0)).epsilon(1e-12));
}

TEST_CASE("signal line (2): a low line feeds nothing, an unconnected one is high") {
  Alone line = line_of(50);
  CHECK(std::isnan(line.line[0]));
  CHECK(relative_error(current(line, 5, 3), 1.4 / 50) < 1e-9);
  line.line[0] = 1;
  CHECK(relative_error(current(line, 5, 3), 1.4 / 50) < 1e-9);
  line.line[0] = 0;
  CHECK(current(line, 5, 3) == 0);
  CHECK(line.flow("heat") == 0);
}
