#include "models/sources/panel.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"
#include "tests/models/support/unknowns.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

/// Diffuse light only, as much as a level panel needs for 1000 W/m2 at 25 degC cell temperature with NOCT 45 degC.
Ambient standard_conditions() {
  Ambient a = air(25 - 25.0 / 800 * 1000);
  a.sky.global_horizontal = a.sky.diffuse_horizontal = Irradiance{1000.0};
  a.sky.sun_zenith = 0 * units::degree;
  return a;
}

Alone lit(PanelParameters p, const Ambient& ambient) {
  p.tilt = Angle{};
  Alone panel = build<Panel>(p);
  panel.start(ambient);
  return panel;
}

double delivered(Alone& panel, double voltage) {
  panel.z = {voltage, 0, voltage};
  REQUIRE(solve_unknowns(panel));
  return panel.output("current");
}

using Keys = std::vector<std::string>;

}  // namespace

TEST_CASE("panel (1): light on the plane by hand") {
  PanelParameters p = label_panel();
  p.sky = SkyModel::isotropic;
  p.transmittance = 0.9;
  Alone panel = build<Panel>(p);
  Ambient a = air(5);
  a.sky.beam_normal = Irradiance{700.0};
  a.sky.diffuse_horizontal = Irradiance{120.0};
  a.sky.global_horizontal = Irradiance{470.0};  // 700 cos 60 deg + 120
  a.sky.sun_zenith = 60 * units::degree;
  a.sky.sun_azimuth = 180 * units::degree;
  a.sky.albedo = 0.3;
  panel.weather(a);
  // Upright: cos(theta) = cos 30 deg, modifier 1 - 0.05 (1/cos 30 deg - 1) = 0.99226497308; half the sky, half the
  // ground.
  const double expected = 0.9 * (0.99226497308 * 606.21778265 + 60 + 0.3 * 470 / 2);
  CHECK(relative_error(panel.output("light"), expected) < 1e-10);
  a.sky.sun_azimuth = 0 * units::degree;
  panel.weather(a);
  CHECK(relative_error(panel.output("light"), 0.9 * (60 + 70.5)) < 1e-12);
}

TEST_CASE("panel (2): cell temperature") {
  Ambient a = air(20);
  a.sky.global_horizontal = a.sky.diffuse_horizontal = Irradiance{800.0};
  Alone panel = lit(label_panel(), a);
  CHECK(panel.output("cell_temperature") == doctest::Approx(celsius(45).si()).epsilon(1e-12));
  a.sky.global_horizontal = a.sky.diffuse_horizontal = Irradiance{};
  panel.weather(a);
  CHECK(panel.output("cell_temperature") == celsius(20).si());
}

TEST_CASE("panel (3): under standard conditions it shows its datasheet") {
  Alone panel = lit(datasheet_panel(), standard_conditions());
  CHECK(panel.output("light") == doctest::Approx(1000).epsilon(1e-12));
  CHECK(panel.output("cell_temperature") == doctest::Approx(298.15).epsilon(1e-12));
  CHECK(relative_error(delivered(panel, 0), 0.36) < 1e-8);
  CHECK(std::abs(delivered(panel, 7.2)) < 1e-8);
  CHECK(relative_error(delivered(panel, 6.0), 0.33) < 1e-8);
  CHECK(panel.output("voltage") == 6.0);
  CHECK(relative_error(panel.flow("harvest"), 1.98) < 1e-8);
  CHECK(relative_error(panel.flow("offer"), 1.98) < 1e-8);
  CHECK(panel.flow("dark_leakage") == 0);
  // The unknown is the terminal voltage plus the drop of the series resistance.
  const double rs = dynamic_cast<const Panel&>(*panel.model).reference().series.si();
  CHECK(relative_error(panel.z[2], 6.0 + 0.33 * rs) < 1e-8);
}

TEST_CASE("panel (4): a label stands for the maximum power point, and the run is told") {
  PanelParameters p = label_panel();
  Alone panel = lit(p, standard_conditions());
  CHECK(relative_error(delivered(panel, 6.0), 0.1) < 1e-8);
  CHECK(relative_error(delivered(panel, 0), 0.108) < 1e-8);
  CHECK(std::abs(delivered(panel, 7.2)) < 1e-8);
  const auto notes = panel.model->assumptions();
  REQUIRE(notes.size() == 1);
  CHECK(notes[0].find("label") != std::string::npos);
  p.cells.reset();
  CHECK(build<Panel>(p).model->assumptions().size() == 2);  // 7.2 V / 0.6 V = 12 cells
  CHECK(build<Panel>(p).model->assumptions()[1].find("12 cells") != std::string::npos);
  CHECK(build<Panel>(datasheet_panel()).model->assumptions().empty());
  PanelParameters stubborn = datasheet_panel();
  stubborn.voltage_coefficient = PerKelvin{0.0};
  CHECK(build<Panel>(stubborn).model->assumptions().at(0).find("voltage coefficient") != std::string::npos);
}

TEST_CASE("panel: at night it only takes in") {
  Alone panel = build<Panel>(datasheet_panel());
  panel.start(air(0));
  CHECK(panel.output("light") == 0);
  for (const double v : {0.5, 4.0, 5.0}) {
    CHECK(delivered(panel, v) < 0);
    CHECK(panel.flow("harvest") == 0);
    CHECK(panel.flow("dark_leakage") > 0);
    CHECK(panel.flow("offer") == 0);
  }
  CHECK(delivered(panel, 0) == 0);
}

TEST_CASE("panel: pushed below zero volts or above open circuit it absorbs") {
  Alone panel = lit(datasheet_panel(), standard_conditions());
  CHECK(delivered(panel, -1) > 0.36);
  CHECK(panel.flow("dark_leakage") > 0);
  CHECK(panel.flow("harvest") == 0);
  CHECK(delivered(panel, 7.5) < 0);
  CHECK(panel.flow("harvest") == 0);
}

TEST_CASE("panel: no voltage gives more than the offer") {
  for (const double light : {3.0, 40.0, 400.0, 1100.0}) {
    for (const double degrees : {-30.0, 0.0, 35.0}) {
      Ambient a = air(degrees);
      a.sky.global_horizontal = a.sky.diffuse_horizontal = Irradiance{light};
      Alone panel = lit(datasheet_panel(), a);
      double best = 0;
      for (double v = 0; v < 9; v += 0.01) {
        delivered(panel, v);
        best = std::max(best, panel.flow("harvest"));
      }
      CHECK(best <= panel.flow("offer") * (1 + 1e-9));
      CHECK(best > panel.flow("offer") * 0.999);
    }
  }
}

TEST_CASE("panel: the nameplate's power is that of its label, or of its maximum power point") {
  const auto watts = [](const PanelParameters& p) {
    return dynamic_cast<const Panel&>(*build<Panel>(p).model).rated_power().si();
  };
  const PanelParameters label = label_panel(), datasheet = datasheet_panel();
  CHECK(watts(label) == doctest::Approx((*label.label_voltage * *label.label_current).si()));
  CHECK(watts(datasheet) ==
        doctest::Approx((*datasheet.maximum_power_voltage * *datasheet.maximum_power_current).si()));
}

TEST_CASE("panel: findings") {
  PanelParameters p = datasheet_panel();
  p.label_voltage = Voltage{6.0};
  CHECK(refused<Panel>(p) == Keys{"label_voltage"});

  p = label_panel();
  p.label_current.reset();
  CHECK(refused<Panel>(p) == Keys{"label_voltage"});
  p = label_panel();
  p.label_voltage.reset();
  CHECK(refused<Panel>(p) == Keys{"label_current"});

  CHECK(refused<Panel>(PanelParameters{}) ==
        Keys{"short_circuit_current", "open_circuit_voltage", "maximum_power_current", "maximum_power_voltage"});
  p = datasheet_panel();
  p.open_circuit_voltage.reset();
  CHECK(refused<Panel>(p) == Keys{"open_circuit_voltage"});

  p = datasheet_panel();
  p.maximum_power_voltage = p.open_circuit_voltage;
  p.maximum_power_current = p.short_circuit_current;
  CHECK(refused<Panel>(p) == Keys{"maximum_power_voltage", "maximum_power_current"});

  p = datasheet_panel();
  p.maximum_power_voltage = Voltage{7.15};
  p.maximum_power_current = Current{0.359};
  CHECK(refused<Panel>(p) == Keys{"maximum_power_voltage"});
}

TEST_CASE("panel: soiled it has so much less light, all of it none") {
  FaultValues values;
  const PanelParameters p = label_panel();
  const Ambient noon = standard_conditions();
  Alone clean = build<Panel>(p);
  clean.weather(noon);
  values.by = 0.6;
  Alone soiled = build<Panel>(faulty<Panel>(p, "soiled", values));
  soiled.weather(noon);
  CHECK(soiled.output("light") == doctest::Approx(0.4 * clean.output("light")).epsilon(1e-12));
  values.by = 1;
  Alone buried = build<Panel>(faulty<Panel>(p, "soiled", values));
  buried.weather(noon);
  CHECK(buried.output("light") == 0);
  CHECK(buried.flow("offer") == 0);
}
