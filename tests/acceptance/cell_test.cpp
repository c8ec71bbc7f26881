// The cell model against published equivalent-circuit coefficients, closed forms and measured open-circuit voltages.
#include "models/storage/cell.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <boost/numeric/odeint.hpp>
#include <cmath>

#include "sim/netlist/corners.hpp"
#include "tests/models/support/alone.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

// Chen & Rincon-Mora 2006, IEEE Trans. Energy Convers. 21(2), 504-511: 850 mAh polymer cell, eqs. 2 to 7.
double chen_voltage(double s) {
  return -1.031 * std::exp(-35 * s) + 3.685 + 0.2156 * s - 0.1178 * s * s + 0.3201 * s * s * s;
}
double chen_series(double s) { return 0.1562 * std::exp(-24.37 * s) + 0.07446; }
double chen_short_resistance(double s) { return 0.3208 * std::exp(-29.14 * s) + 0.04669; }
double chen_short_capacitance(double s) { return -752.9 * std::exp(-13.51 * s) + 703.6; }
double chen_long_resistance(double s) { return 6.603 * std::exp(-155.2 * s) + 0.04984; }
double chen_long_capacitance(double s) { return -6056 * std::exp(-27.12 * s) + 4475; }

/// That cell: curves through the coefficients' values, time constants from s = 0.5, no temperature in it.
CellParameters chen_cell() {
  const std::vector<double> share{0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 0.8, 1};
  const auto over_charge = [&](double (*law)(double), Outside outside) {
    std::vector<double> values(share.size());
    std::transform(share.begin(), share.end(), values.begin(), law);
    return Curve(share, values, Interpolation::monotone, outside);
  };
  CellParameters p = plain_cell(0.85, 1, 1, 1);
  p.open_circuit_voltage = over_charge(chen_voltage, Outside::extend);
  p.series_resistance = over_charge(chen_series, Outside::hold);
  p.pair_1_resistance = over_charge(chen_short_resistance, Outside::hold);
  p.pair_2_resistance = over_charge(chen_long_resistance, Outside::hold);
  p.pair_1_time = Duration{chen_short_resistance(0.5) * chen_short_capacitance(0.5)};
  p.pair_2_time = Duration{chen_long_resistance(0.5) * chen_long_capacitance(0.5)};
  return p;
}

Alone started(CellParameters p, double share) {
  p.charge = share;
  Alone cell = build<Cell>(p);
  cell.start(air(25));
  return cell;
}

/// Sets the terminal voltage at which `current` flows in, exactly: the cell is linear in it.
double impose(Alone& cell, double current) {
  cell.z = {0, 0};
  cell.z[0] = (current - cell.currents()[0]) / cell.jacobian()[0];
  return cell.z[0];
}

/// Integrates the model's own rates under constant current.
void integrate(Alone& cell, double current, double from, double to) {
  namespace odeint = boost::numeric::odeint;
  using State = std::vector<double>;
  const auto stepper = odeint::make_controlled(1e-13, 1e-13, odeint::runge_kutta_dopri5<State>());
  State x = cell.x;
  odeint::integrate_adaptive(
      stepper,
      [&](const State& state, State& rate, double) {
        cell.x = state;
        impose(cell, current);
        rate = cell.rates();
      },
      x, from, to, 0.01);
  cell.x = x;
}

}  // namespace

TEST_CASE("step response with the Chen & Rincon-Mora values at half charge: two exponentials in closed form") {
  // Published coefficients at s = 0.5: 74.46, 46.69, 49.84 mohm; 32.8 s and 223 s.
  CellParameters p = chen_cell();
  const auto constant = [](double value) {
    return Curve({0, 1}, {value, value}, Interpolation::monotone, Outside::hold);
  };
  const double r0 = chen_series(0.5), r1 = chen_short_resistance(0.5), r2 = chen_long_resistance(0.5);
  p.series_resistance = constant(r0);
  p.pair_1_resistance = constant(r1);
  p.pair_2_resistance = constant(r2);
  const double tau1 = p.pair_1_time.si(), tau2 = p.pair_2_time.si();
  CHECK(std::abs(tau1 - 32.8) < 0.05);
  CHECK(std::abs(tau2 - 223) < 0.5);

  for (const double discharge : {0.08, 0.4, -0.2}) {
    Alone cell = started(p, 0.5);
    double time = 0;
    for (const double t : {1.0, 10.0, 33.0, 120.0, 223.0, 600.0, 1500.0}) {
      integrate(cell, -discharge, time, t);
      time = t;
      // Without self-discharge the charge falls in a straight line; v = OCV - I (R0 + R1 (1 - e^-t/tau1) + ...).
      const double share = 0.5 - discharge * t / (0.85 * 3600);
      const double expected =
          p.open_circuit_voltage(share) - discharge * (r0 - r1 * std::expm1(-t / tau1) - r2 * std::expm1(-t / tau2));
      CHECK(std::abs(impose(cell, -discharge) - expected) < 1e-9);
    }
  }
}

TEST_CASE("relaxation after a pulse: the same two exponentials, down to the open-circuit voltage") {
  CellParameters p = plain_cell(0.85, 0.07446, 0.04669, 0.04984);
  p.pair_1_time = Duration{32.81};
  p.pair_2_time = Duration{223.0};
  Alone cell = started(p, 0.5);
  integrate(cell, -0.5, 0, 300);
  const double v1 = -0.5 * 0.04669 * -std::expm1(-300 / 32.81), v2 = -0.5 * 0.04984 * -std::expm1(-300 / 223.0);
  integrate(cell, 0, 0, 100);
  const double expected = 3.7 + v1 * std::exp(-100 / 32.81) + v2 * std::exp(-100 / 223.0);
  CHECK(std::abs(impose(cell, 0) - expected) < 1e-9);  // closed form; tolerance of the integration
}

TEST_CASE("Chen & Rincon-Mora 2006: tabulated values of the 850 mAh cell come back through the curves") {
  // Values computed independently from the published coefficients; tolerance: half the last printed digit. The two
  // capacitances are not curves here: time constants are held, so they fit at s = 0.5.
  const struct {
    double share, series, first, second;
  } rows[] = {{0.1, 0.08812, 0.06410, 0.04984},
              {0.2, 0.07565, 0.04763, 0.04984},
              {0.5, 0.07446, 0.04669, 0.04984},
              {1.0, 0.07446, 0.04669, 0.04984}};
  for (const auto& row : rows) {
    CAPTURE(row.share);
    const Alone cell = started(chen_cell(), row.share);
    const Cell::Resistances r = dynamic_cast<const Cell&>(*cell.model).resistances(cell.view());
    CHECK(std::abs(r.series.si() - row.series) < 5.1e-6);
    CHECK(std::abs(r.pair_1.si() - row.first) < 5.1e-6);
    CHECK(std::abs(r.pair_2.si() - row.second) < 5.1e-6);
  }
  const CellParameters p = chen_cell();
  CHECK(std::abs(p.pair_1_time.si() / p.pair_1_resistance(0.5) - 702.72) < 0.005);
  CHECK(std::abs(p.pair_2_time.si() / p.pair_2_resistance(0.5) - 4475.0) < 0.05);
  for (const auto& [share, volts] : {std::pair{0.0, 2.6540},
                                     {0.05, 3.5164},
                                     {0.1, 3.6746},
                                     {0.2, 3.7250},
                                     {0.5, 3.8034},
                                     {0.8, 3.9460},
                                     {1.0, 4.1029}}) {
    Alone cell = started(chen_cell(), share);
    CHECK(std::abs(impose(cell, 0) - volts) < 5.1e-5);
  }
}

TEST_CASE("measured open-circuit voltages: the curve keeps every tabulated point and never falls between them") {
  // Published pseudo-open-circuit curves of five cells at C/20 to C/32 (cylindrical, iron phosphate and
  // nickel-manganese- cobalt or nickel-cobalt-aluminium types).
  const std::vector<double> share{0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1};
  const std::vector<std::vector<double>> measured{
      {2.0102, 3.0721, 3.2029, 3.2413, 3.2778, 3.2948, 3.2991, 3.3032, 3.3163, 3.3371, 3.3411, 3.3429, 3.5981},
      {2.5061, 3.1693, 3.3344, 3.4746, 3.5811, 3.6560, 3.7418, 3.8439, 3.9263, 4.0340, 4.0798, 4.1011, 4.1932},
      {2.7027, 3.1943, 3.3500, 3.4840, 3.5849, 3.6538, 3.7355, 3.8374, 3.9198, 4.0186, 4.0827, 4.1069, 4.1881},
      {2.5199, 3.1617, 3.3041, 3.4754, 3.5763, 3.6443, 3.7167, 3.8174, 3.9201, 4.0184, 4.0919, 4.1158, 4.1943},
      {2.5000, 3.1916, 3.3547, 3.4820, 3.5896, 3.6548, 3.7377, 3.8425, 3.9234, 4.0307, 4.0854, 4.1083, 4.2000}};
  for (const std::vector<double>& volts : measured) {
    CellParameters p = pouch_cell();
    p.open_circuit_voltage = Curve(share, volts, Interpolation::monotone, Outside::extend);
    Alone cell = started(p, 0);
    double before = 0;
    for (std::size_t i = 0; i < share.size(); ++i) {
      cell.x[Cell::charge] = share[i] * p.capacity.si();
      CHECK(std::abs(impose(cell, 0) - volts[i]) < 1e-12);  // a tabulated point is exact, save for rounding
    }
    for (int i = 0; i <= 1000; ++i) {
      cell.x[Cell::charge] = i / 1000.0 * p.capacity.si();
      const double now = impose(cell, 0);
      CHECK(now >= before);
      before = now;
    }
  }
}

TEST_CASE("Arrhenius factors from 25 to 35 and to 0 degC") {
  // exp(-Ea/R (1/T - 1/298.15 K)) of a rate; a resistance goes the other way. Activation energies published for lithium
  // cells (17.126 kJ/mol: Naumann et al. 2018; 31.7 kJ/mol: Wang et al. 2011) and two round ones; half the last digit.
  constexpr double avogadro = 6.02214076e23;  // exact, SI 2019
  const struct {
    double joule_per_mole, to_35, to_0;
  } rows[] = {{17126, 1.2513, 0.5314}, {20000, 1.2993, 0.4779}, {31700, 1.5143, 0.3102}, {50000, 1.9243, 0.1579}};
  for (const auto& row : rows) {
    const Energy activation{row.joule_per_mole / avogadro};
    CHECK(std::abs(1 / arrhenius(activation, celsius(35)) - row.to_35) < 5.1e-5);
    CHECK(std::abs(1 / arrhenius(activation, celsius(0)) - row.to_0) < 5.1e-5);
  }
}

TEST_CASE("pulse tests of a cylindrical cell at 20 and 40 degC: the class has their resistances at both") {
  // ARTS-Lab, data set of an INR 18650 cell's characterization (CC BY-SA 4.0): pulses at 20 and 40 degC, two pairs
  // fitted. One activation energy a resistance over 20 K: within 5 %.
  const PartClass* part = PartLibrary::built_in().find("nmc-18650-3500mah");
  REQUIRE(part);
  Faults faults;
  CellParameters p;
  REQUIRE(bind_fields(part->table->fields, written_values(*part), &p, faults));
  const struct {
    double degrees, series, pair_1, pair_2;  // mohm
  } rows[] = {{20, 32, 21.7, 16.8}, {40, 26, 12.9, 9.5}};
  for (const auto& row : rows) {
    CAPTURE(row.degrees);
    Alone cell = started(p, 0.5);
    cell.x[Cell::temperature] = celsius(row.degrees).si();
    const Cell::Resistances r = dynamic_cast<const Cell&>(*cell.model).resistances(cell.view());
    CHECK(relative_error(r.series.si(), row.series / 1e3) < 0.05);
    CHECK(relative_error(r.pair_1.si(), row.pair_1 / 1e3) < 0.05);
    CHECK(relative_error(r.pair_2.si(), row.pair_2 / 1e3) < 0.05);
  }
}

TEST_CASE("a lumped body warms up exponentially under constant loss") {
  // dT/dt = (R I^2 - (T - Tair)/Rth)/Cth has T = Tair + R I^2 Rth (1 - e^-t/(Rth Cth)); pairs without resistance to
  // speak of. Tolerance of the integration, 1e-8 K.
  CellParameters p = plain_cell(100, 0.05, 1e-13, 1e-13);
  Alone cell = started(p, 0.5);
  const double heat = 0.05 * 4, tau = 20.0 * 45.0;
  integrate(cell, -2, 0, 700);
  CHECK(std::abs(cell.x[Cell::temperature] - 298.15 - heat * 20 * -std::expm1(-700 / tau)) < 1e-8);
}

TEST_CASE("charge is counted exactly, and energy too, through a whole cycle") {
  // Coulomb count in closed form; energy: what goes in is stored or lost, and the store knows its content in closed
  // form.
  CellParameters p = pouch_cell();
  p.self_discharge = Rate{0.0};
  Alone cell = started(p, 0.3);
  const double before = cell.model->stored_energy(cell.view());
  double stored = 0;
  constexpr double step = 20;
  const auto run = [&](double current, int steps) {
    for (int i = 0; i < steps; ++i) {  // Simpson's rule over the stored flows at the ends and the middle of each step
      const auto flow = [&] {
        impose(cell, current);
        return cell.flow("charge_energy") + cell.flow("pair_energy");
      };
      const double first = flow();
      integrate(cell, current, 0, step / 2);
      const double middle = flow();
      integrate(cell, current, 0, step / 2);
      stored += step / 6 * (first + 4 * middle + flow());
    }
  };
  run(0.24, 450);   // 0.6 Ah in
  run(-0.12, 900);  // 0.6 Ah out
  CHECK(std::abs(cell.x[Cell::charge] / 4320 - 0.3) < 1e-12);
  const double after = cell.model->stored_energy(cell.view());
  CHECK(std::abs(after - before - stored) <
        1e-6 * 0.6 * 3600 * 3.8);  // of the energy that went through: Simpson's error
}
