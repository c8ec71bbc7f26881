// The junction law against values computed independently from Shockley's equation (Shockley 1949, Bell Syst. Tech. J.
// 28(3), 435-489) with the exact constants of the SI.
#include <doctest/doctest.h>

#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <cstdint>

#include "models/paths/schottky.hpp"
#include "models/thermal.hpp"
#include "tests/models/support/alone.hpp"
#include "tests/models/support/unknowns.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

/// Forward voltage at a current, by bisection over the product's diode.
double forward_voltage(Alone& diode, double ampere) {
  const auto excess = [&](double volts) {
    diode.z = {volts, 0, volts};
    REQUIRE(solve_unknowns(diode));
    return diode.output("current") - ampere;
  };
  std::uintmax_t iterations = 200;
  const auto bracket =
      boost::math::tools::bisect(excess, 0.0, 1.2, boost::math::tools::eps_tolerance<double>(48), iterations);
  return (bracket.first + bracket.second) / 2;
}

Alone junction(double degrees) {
  SchottkyParameters p;
  p.saturation_current = Current{1e-9};
  p.ideality = 1.5;
  Alone diode = build<Schottky>(p);
  diode.start(air(degrees));
  return diode;
}

}  // namespace

TEST_CASE("thermal voltage at 25 degC (CODATA 2018)") {
  CHECK(std::abs(thermal_voltage(celsius(25)).si() - 25.692579e-3) < 5e-10);  // half the last digit
}

TEST_CASE("forward voltage of 1 nA, n = 1.5 at 25 degC") {
  Alone diode = junction(25);
  CHECK(std::abs(forward_voltage(diode, 0.01) - 0.62117) < 5e-6);  // half the last digit
  CHECK(std::abs(forward_voltage(diode, 0.1) - 0.70991) < 5e-6);
}

TEST_CASE("slope per decade of current: n times 59.16 mV at 25 degC, proportional to absolute temperature") {
  for (const double degrees : {25.0, -20.0, 60.0}) {
    Alone diode = junction(degrees);
    const double decade = forward_voltage(diode, 0.1) - forward_voltage(diode, 0.01);
    // 59.16 mV has four digits: 1e-5 V is the tolerance after multiplying by n.
    CHECK(std::abs(decade - 1.5 * 59.16e-3 * celsius(degrees).si() / 298.15) < 1e-5);
  }
}
