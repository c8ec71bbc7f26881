#include "models/sources/single_diode.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

#include "models/thermal.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/random.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

PanelDatasheet small_panel() {
  return {Current{0.36}, Current{0.33}, Voltage{7.2}, Voltage{6.0}, PerKelvin{0.0005}, PerKelvin{-0.0033}, 12};
}

/// Power at a terminal voltage near the maximum power point, on the curve.
double power_at_junction(const SingleDiode& s, double junction) {
  const double i = s.at_junction(Voltage{junction}).si();
  return (junction - s.series.si() * i) * i;
}

void check_passes_through(const SingleDiode& s, const PanelDatasheet& d) {
  CHECK(relative_error(s.short_circuit_current().si(), d.short_circuit_current.si()) < 1e-9);
  CHECK(relative_error(s.open_circuit_voltage().si(), d.open_circuit_voltage.si()) < 1e-9);
  const double junction = d.maximum_power_voltage.si() + s.series.si() * d.maximum_power_current.si();
  CHECK(relative_error(s.at_junction(Voltage{junction}).si(), d.maximum_power_current.si()) < 1e-9);
  // The power is level there: a small step changes it by second order only, the same both ways.
  const double h = 3e-6 * junction, top = power_at_junction(s, junction);
  const double up = power_at_junction(s, junction + h), down = power_at_junction(s, junction - h);
  CHECK(up < top);
  CHECK(down < top);
  CHECK(std::abs(up - down) / (2 * h) < 1e-6 * top / junction);
}

}  // namespace

TEST_CASE("single diode (1): current by hand") {
  const SingleDiode s{Current{0.1}, Current{1e-9}, Voltage{0.3}, Resistance{2.0}, Conductance{1e-3}};
  // 0.1 - 1e-9 (e^15 - 1) - 4.5e-3
  CHECK(s.at_junction(Voltage{4.5}).si() == doctest::Approx(0.0922309836).epsilon(1e-8));
  CHECK(s.at_junction(Voltage{0.0}).si() == 0.1);
  CHECK(s.at_junction(Voltage{-1.0}).si() == doctest::Approx(0.101 + 1e-9 * (1 - std::exp(-1 / 0.3))).epsilon(1e-12));
}

TEST_CASE("single diode: open and short circuit in closed form without parallel and series resistance") {
  const SingleDiode s{Current{0.1}, Current{1e-9}, Voltage{0.3}, Resistance{0.0}, Conductance{0.0}};
  CHECK(relative_error(s.open_circuit_voltage().si(), 0.3 * std::log1p(1e8)) < 1e-12);
  CHECK(s.short_circuit_current().si() == 0.1);
  // Maximum power of the ideal curve: (1 + v) e^v = 1 + IL/I0 with v = Vmp/a. At the found point both sides agree.
  const double v = s.maximum_power().voltage.si() / 0.3;
  CHECK(relative_error((1 + v) * std::exp(v), 1 + 1e8) < 1e-6);
}

TEST_CASE("single diode: in the dark it gives nothing") {
  const SingleDiode s{Current{0.0}, Current{1e-9}, Voltage{0.3}, Resistance{2.0}, Conductance{1e-3}};
  CHECK(s.open_circuit_voltage().si() == 0);
  CHECK(s.short_circuit_current().si() == 0);
  CHECK(s.maximum_power().power.si() == 0);
  CHECK(s.at_junction(Voltage{4.0}).si() < 0);
}

TEST_CASE("single diode (6): the five parameters reproduce the datasheet") {
  std::string note;
  const PanelDatasheet d = small_panel();
  const SingleDiode s = five_parameters(d, note);
  CHECK(note.empty());
  check_passes_through(s, d);
  const SingleDiode warm = translate(s, d, reference_irradiance, celsius(35));
  CHECK(relative_error(warm.open_circuit_voltage().si(), 7.2 * (1 - 0.033)) < 1e-8);
  CHECK(s.series.si() > 0);
  CHECK(s.saturation.si() > 0);
  CHECK(s.shunt.si() >= 0);
}

TEST_CASE("single diode (6): random datasheets are met, refused, or met with a note about the coefficient") {
  Random random(11);
  int met = 0, noted = 0, refused = 0;
  for (int i = 0; i < 1500; ++i) {
    PanelDatasheet d;
    d.cells = 1 + random.up_to(39);
    d.open_circuit_voltage = Voltage{random.between(0.4, 0.8) * d.cells};
    d.short_circuit_current = Current{std::pow(10.0, random.between(-2.5, 1.0))};
    d.maximum_power_voltage = d.open_circuit_voltage * random.between(0.7, 0.9);
    d.maximum_power_current = d.short_circuit_current * random.between(0.8, 0.98);
    d.current_coefficient = PerKelvin{random.between(-0.001, 0.002)};
    d.voltage_coefficient = PerKelvin{random.between(-0.006, 0)};
    std::string note;
    try {
      const SingleDiode s = five_parameters(d, note);
      check_passes_through(s, d);
      const double warm = translate(s, d, reference_irradiance, celsius(35)).open_circuit_voltage().si();
      const double fault = warm / d.open_circuit_voltage.si() - 1 - 10 * d.voltage_coefficient.si();
      if (note.empty()) {
        ++met;
        CHECK(std::abs(fault) < 1e-8);
      } else {
        ++noted;
        CHECK(std::abs(fault) > 1e-8);
      }
      for (const double t : {-40.0, 10.0, 85.0}) {
        for (const double g : {1e-6, 1e-2, 10.0, 1200.0}) {
          const SingleDiode now = translate(s, d, Irradiance{g}, celsius(t));
          const SingleDiode::Point best = now.maximum_power();
          CHECK(best.power.si() > 0);
          CHECK(best.power.si() < (now.open_circuit_voltage() * now.short_circuit_current()).si());
        }
      }
    } catch (const std::domain_error&) {
      ++refused;
    }
  }
  CHECK(met > 200);
  CHECK(noted > 200);
  CHECK(refused > 100);
}

TEST_CASE("single diode: impossible datasheets are refused, impossible coefficients are noted") {
  std::string note;
  PanelDatasheet square = small_panel();
  square.maximum_power_voltage = Voltage{7.15};
  square.maximum_power_current = Current{0.359};
  CHECK_THROWS_AS(five_parameters(square, note), std::domain_error);

  PanelDatasheet level = small_panel();
  level.voltage_coefficient = PerKelvin{0.0};
  const SingleDiode s = five_parameters(level, note);
  CHECK(note.find("voltage coefficient") != std::string::npos);
  CHECK(note.find("0.000 asked") != std::string::npos);
  check_passes_through(s, level);
}

TEST_CASE("single diode (2) to (5): translation by hand") {
  const SingleDiode at25{Current{0.36}, Current{4e-12}, Voltage{0.286}, Resistance{0.9}, Conductance{2e-3}};
  const PanelDatasheet d = small_panel();
  const SingleDiode s = translate(at25, d, Irradiance{500.0}, celsius(45));
  CHECK(relative_error(s.slope.si(), 0.286 * 318.15 / 298.15) < 1e-14);            // (2)
  CHECK(relative_error(s.light.si(), 0.5 * (0.36 + 0.36 * 0.0005 * 20)) < 1e-14);  // (3)
  CHECK(relative_error(s.saturation.si(), 4e-12 * 23.488412203) < 1e-9);  // (4), factor from the gap 1.114998166 eV
  CHECK(s.series.si() == 0.9);
  CHECK(relative_error(s.shunt.si(), 1e-3) < 1e-14);  // (5)

  const SingleDiode same = translate(at25, d, reference_irradiance, celsius(25));
  CHECK(same.light.si() == 0.36);
  CHECK(same.saturation.si() == 4e-12);
  CHECK(same.slope.si() == 0.286);
  CHECK(same.shunt.si() == 2e-3);

  const SingleDiode night = translate(at25, d, Irradiance{0.0}, celsius(-10));
  CHECK(night.light.si() == 0);
  CHECK(relative_error(night.shunt.si(), 2e-5) < 1e-14);
  CHECK(translate(at25, d, Irradiance{10.0}, celsius(25)).shunt ==
        translate(at25, d, Irradiance{9.0}, celsius(25)).shunt);
}
