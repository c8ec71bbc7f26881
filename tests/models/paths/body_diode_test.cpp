#include "models/paths/body_diode.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {
constexpr double w = 0.03, vf = 0.75, r = 0.1;
const BodyDiode diode{Voltage{vf}, Resistance{r}};
}  // namespace

TEST_CASE("body diode (1): the knee by hand") {
  for (const double v : {0.3, 0.6, 0.74, 0.75, 0.8, 1.2}) {
    const double expected = w / r * (std::log(1 + std::exp((v - vf) / w)) - std::log(1 + std::exp(-vf / w)));
    CHECK(relative_error(diode(v), expected) < 1e-6);
  }
}

TEST_CASE("body diode (1): exponential far below the forward voltage, a straight line far above it") {
  CHECK(relative_error(diode(0.50) / diode(0.47), std::exp(1.0)) < 1e-3);
  CHECK(relative_error(diode(1.75), 1.0 / r) < 1e-9);
  CHECK(relative_error(diode(101.0) - diode(100.0), 1 / r) < 1e-9);
}

TEST_CASE("body diode: 0.5 to 0.65 V at a milliampere, as silicon junctions have") {
  // Common practice: a silicon junction drops about 0.6 V at 1 mA, less where its area is that of a power transistor.
  CHECK(diode(0.50) < 1e-3);
  CHECK(diode(0.65) > 1e-3);
}

TEST_CASE("body diode: zero at zero, passive, never steeper than its resistance") {
  CHECK(diode(0.0) == 0);
  double before = diode(-30.0);
  CHECK(before < 0);
  CHECK(before > -1e-9);
  for (double v = -29.99; v < 30; v += 0.01) {
    const double i = diode(v);
    CHECK(v * i >= 0);
    CHECK(std::abs(i) <= std::abs(v) / r);
    CHECK(i >= before);
    before = i;
  }
}

TEST_CASE("body diode: its derivative, and far out no overflow") {
  for (const double v : {-1000.0, -1.0, 0.0, 0.7, 0.75, 0.8, 3.0, 1000.0}) {
    const Dual<1> i = diode(Dual<1>::variable(v, 0));
    CHECK(i.value == diode(v));
    CHECK(std::isfinite(i.slope[0]));
    const double h = 1e-5, slope = (diode(v + h) - diode(v - h)) / (2 * h);
    CHECK(std::abs(i.slope[0] - slope) < 1e-5);
  }
}
