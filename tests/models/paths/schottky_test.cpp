#include "models/paths/schottky.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/unknowns.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

Alone at(const SchottkyParameters& p, double degrees) {
  Alone diode = build<Schottky>(p);
  diode.start(air(degrees));
  return diode;
}

double current(Alone& diode, double voltage) {
  diode.z = {voltage, 0, std::min(voltage, 0.3)};
  REQUIRE(solve_unknowns(diode));
  return diode.output("current");
}

}  // namespace

TEST_CASE("schottky (1): the junction by hand") {
  SchottkyParameters p = signal_schottky();
  p.series_resistance = Resistance{0.0};
  Alone diode = at(p, 25);
  const double n_vt = 1.03 * 25.692579e-3;
  for (const double v : {-5.0, -0.02, 0.0, 0.1, 0.35}) {
    const double expected = 0.05e-6 * std::expm1(v / n_vt);
    CHECK(std::abs(current(diode, v) - expected) <= 1e-6 * std::abs(expected));
  }
}

TEST_CASE("schottky (4): the series resistance adds its drop") {
  Alone diode = at(signal_schottky(), 25);
  const double i = 0.01, junction = 1.03 * 25.692579e-3 * std::log1p(i / 0.05e-6);
  CHECK(relative_error(current(diode, junction + 1.0 * i), i) < 1e-6);
  CHECK(std::abs(diode.z[2] - junction) < 1e-8);
}

TEST_CASE("schottky (2): saturation over temperature") {
  // (T/T25)^2 exp(-(0.65 eV/k)(1/T - 1/T25)) at 45 and -20 degC.
  SchottkyParameters p = power_schottky();
  p.leakage_current.reset();
  for (const auto& [degrees, factor] : {std::pair{45.0, 5.585884677}, {25.0, 1.0}, {-20.0, 0.00803130156}}) {
    Alone diode = at(p, degrees);
    CHECK(relative_error(-current(diode, -10), 1.2e-6 * factor) < 1e-8);
  }
}

TEST_CASE("schottky (3): the leakage point of the datasheet, and its rise with temperature") {
  Alone diode = at(power_schottky(), 25);
  CHECK(relative_error(-current(diode, -20), 20e-6) < 1e-6);
  Alone warm = at(power_schottky(), 45);
  CHECK(relative_error(-current(warm, -20), 20e-6 * 5.585884677) < 1e-6);
  CHECK(relative_error(current(diode, -10) - current(diode, -5), -5 * (20e-6 - 1.2e-6) / 20) < 1e-6);
}

TEST_CASE("schottky: every loss has its name, forwards and backwards") {
  Alone diode = at(power_schottky(), 25);
  const double forward = current(diode, 0.35);
  CHECK(relative_error(diode.flow("conduction"), 0.35 * forward) < 1e-12);
  CHECK(diode.flow("leakage") == 0);
  const double backward = current(diode, -6);
  CHECK(diode.flow("conduction") == 0);
  CHECK(relative_error(diode.flow("leakage"), -6 * backward) < 1e-12);
  CHECK(current(diode, 0) == 0);
}

TEST_CASE("schottky: findings") {
  SchottkyParameters p = power_schottky();
  p.leakage_current = Current{1e-6};
  CHECK(refused<Schottky>(p) == std::vector<std::string>{"leakage_current"});
  p.leakage_current = p.saturation_current;
  CHECK_NOTHROW(build<Schottky>(p));
}
