#include "models/storage/cell.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

using Names = std::vector<std::string>;

Alone started(CellParameters p, double share, double degrees) {
  p.charge = share;
  Alone cell = build<Cell>(p);
  cell.start(air(degrees));
  return cell;
}

/// The terminal voltage at which this current flows in; the cell is linear in it.
double impose(Alone& cell, double current) {
  cell.z = {0, 0};
  cell.z[0] = (current - cell.currents()[0]) / cell.jacobian()[0];
  return cell.z[0];
}

const Cell& as_cell(const Alone& cell) { return dynamic_cast<const Cell&>(*cell.model); }

}  // namespace

TEST_CASE("cell: the span begins at rest, at air temperature, with the charge asked for") {
  Alone cell = started(pouch_cell(), 0.8, -7);
  CHECK(cell.x == std::vector<double>{0.8 * 4320, 0, 0, celsius(-7).si()});
  CHECK(cell.output("state_of_charge") == doctest::Approx(0.8).epsilon(1e-15));
  CHECK(cell.output("temperature") == celsius(-7).si());
  CHECK(cell.line_output("temperature") == std::vector<double>{celsius(-7).si()});
  cell.model->guess(cell.view(), cell.z.data());
  CHECK(cell.currents()[0] == doctest::Approx(0).scale(1e-12));
}

TEST_CASE("cell (1): terminal voltage by hand") {
  Alone cell = started(plain_cell(2.0, 0.05, 0.03, 0.02), 0.5, 25);
  CHECK(impose(cell, 0) == doctest::Approx(3.7).epsilon(1e-14));
  cell.x[Cell::pair_1] = 0.012;
  cell.x[Cell::pair_2] = -0.002;
  CHECK(impose(cell, 0.4) == doctest::Approx(3.7 + 0.012 - 0.002 + 0.02).epsilon(1e-14));
  CHECK(cell.output("current") == doctest::Approx(0.4).epsilon(1e-12));
  CHECK(cell.output("voltage") == cell.z[0]);
  CHECK(impose(cell, -0.4) == doctest::Approx(3.69).epsilon(1e-14));
}

TEST_CASE("cell (2), (3): rates by hand") {
  CellParameters p = plain_cell(2.0, 0.05, 0.03, 0.02);
  p.self_discharge = Rate{1e-8};
  Alone cell = started(p, 0.5, 25);
  cell.x[Cell::pair_1] = 0.012;
  cell.x[Cell::pair_2] = -0.002;
  impose(cell, -0.4);
  const std::vector<double> rate = cell.rates();
  CHECK(relative_error(rate[Cell::charge], -0.4 - 7200e-8) < 1e-12);
  CHECK(relative_error(rate[Cell::pair_1], (0.03 * -0.4 - 0.012) / 20) < 1e-12);
  CHECK(relative_error(rate[Cell::pair_2], (0.02 * -0.4 + 0.002) / 200) < 1e-12);
}

TEST_CASE("cell (4): cold raises all three resistances alike") {
  CellParameters p = pouch_cell();
  p.usable_capacity = Curve({293.15}, {1}, Interpolation::monotone, Outside::hold);
  // exp(0.25 eV/k (1/T - 1/298.15 K)) at 0 and -20 degC.
  for (const auto& [degrees, factor] : {std::pair{25.0, 1.0}, {0.0, 2.43653330}, {-20.0, 5.63887444}}) {
    const Alone cell = started(p, 0.5, degrees);
    const Cell::Resistances r = as_cell(cell).resistances(cell.view());
    CHECK(relative_error(r.series.si(), 0.095 * factor) < 1e-8);
    CHECK(relative_error(r.pair_1.si(), 0.040 * factor) < 1e-8);
    CHECK(relative_error(r.pair_2.si(), 0.048 * factor) < 1e-8);
  }
}

TEST_CASE("cell (4): each resistance has an activation energy of its own where one is given") {
  CellParameters p = plain_cell(2.0, 0.05, 0.03, 0.02);
  p.activation_energy = 0.25 * electronvolt;
  p.series_activation_energy = 0.1 * electronvolt;
  p.pair_2_activation_energy = Energy{0.0};
  const Alone cell = started(p, 0.5, 0);
  const Cell::Resistances r = as_cell(cell).resistances(cell.view());
  // exp(Ea/k (1/273.15 K - 1/298.15 K)); 2.43653330 for 0.25 eV, to the power 0.4 for 0.1 eV.
  CHECK(relative_error(r.series.si(), 0.05 * std::pow(2.43653330, 0.4)) < 1e-8);
  CHECK(relative_error(r.pair_1.si(), 0.03 * 2.43653330) < 1e-8);
  CHECK(r.pair_2.si() == 0.02);
  CHECK(cell.output("series_resistance") == r.series.si());
}

TEST_CASE("cell (5): cold moves the resistance of the last charge up, and destroys no charge") {
  CellParameters p = pouch_cell();
  p.activation_energy = Energy{0.0};
  const auto series = [&](double share, double degrees) {
    const Alone cell = started(p, share, degrees);
    return as_cell(cell).resistances(cell.view()).series.si();
  };
  // usable(-20 degC) = 0.6: f = 0.4; at s = 0.7 half of what can be reached is left.
  CHECK(series(0.7, -20) == doctest::Approx(0.095).epsilon(1e-12));
  CHECK(series(0.46, -20) == doctest::Approx(0.13).epsilon(1e-12));
  CHECK(series(1, -20) == doctest::Approx(0.092).epsilon(1e-12));
  for (const double share : {0.4, 0.2, 0.0, -0.1}) CHECK(series(share, -20) == 0.3);
  CHECK(series(0.5, 20) == 0.095);
  CHECK(series(1.05, 20) == 0.092);
  // Beyond the tabulated temperatures the end values hold.
  CHECK(series(0.7, -40) == series(0.7, -20));
  CHECK(series(0.5, 60) == series(0.5, 20));
  Alone cold = started(p, 0.3, -20), warm = started(p, 0.3, 25);
  CHECK(impose(cold, 0) == impose(warm, 0));
  CHECK(cold.x[Cell::charge] == warm.x[Cell::charge]);
}

TEST_CASE("cell (6): self-discharge doubles every 10 K") {
  CellParameters p = plain_cell(2.0, 0.05, 0.03, 0.02);
  p.self_discharge = Rate{1e-8};
  for (const auto& [degrees, factor] : {std::pair{25.0, 1.0}, {35.0, 2.0}, {5.0, 0.25}}) {
    Alone cell = started(p, 0.5, degrees);
    impose(cell, 0);
    CHECK(relative_error(-cell.rates()[Cell::charge], 7200e-8 * factor) < 1e-9);
    CHECK(relative_error(cell.flow("self_discharge"), 3.7 * 7200e-8 * factor) < 1e-9);
  }
}

TEST_CASE("cell (4), (6): above 80 degC they stay as they are there") {
  CellParameters p = pouch_cell();
  p.self_discharge = Rate{1e-8};
  const Alone there = started(p, 0.5, 80), beyond = started(p, 0.5, 300);
  const double r = as_cell(there).resistances(there.view()).series.si();
  CHECK(r < 0.095 / 3);
  CHECK(as_cell(beyond).resistances(beyond.view()).series.si() == r);
  CHECK(there.rates()[Cell::charge] == beyond.rates()[Cell::charge]);
}

TEST_CASE("cell (7): heat in, heat out") {
  Alone cell = started(plain_cell(2.0, 0.05, 0.03, 0.02), 0.5, 25);
  impose(cell, 0);
  CHECK(cell.rates()[Cell::temperature] == doctest::Approx(0).scale(1e-12));
  cell.x[Cell::pair_1] = 0.012;
  impose(cell, -0.4);
  const double heat = 0.05 * 0.16 + 0.012 * 0.012 / 0.03;
  CHECK(relative_error(cell.rates()[Cell::temperature], heat / 45) < 1e-9);
  cell.weather(air(5));
  CHECK(relative_error(cell.rates()[Cell::temperature], (heat - 20 / 20.0) / 45) < 1e-9);
  cell.weather(air(45));
  CHECK(cell.rates()[Cell::temperature] > 0);
}

TEST_CASE("cell (8): stored energy by hand") {
  Alone cell = started(plain_cell(2.0, 0.05, 0.03, 0.02), 0.25, 25);
  // A dead cell has none; between dead and empty a flat curve holds half of what its height would: 1 % of the charge.
  CHECK(relative_error(cell.model->stored_energy(cell.view()), 0.26 * 7200 * 3.7) < 1e-14);
  cell.x[Cell::pair_1] = 0.3;
  cell.x[Cell::pair_2] = -0.1;
  const double pairs = 0.5 * 20 / 0.03 * 0.09 + 0.5 * 200 / 0.02 * 0.01;
  CHECK(relative_error(cell.model->stored_energy(cell.view()), 0.26 * 7200 * 3.7 + pairs) < 1e-14);
  // p = 1/2: 0.02 p^3 (1 - p/2) of the charge.
  cell.x = {-0.01 * 7200, 0, 0, celsius(25).si()};
  CHECK(relative_error(cell.model->stored_energy(cell.view()), 0.001875 * 7200 * 3.7) < 1e-14);
  for (const double share : {-0.02, -0.5}) {
    cell.x[Cell::charge] = share * 7200;
    CHECK(cell.model->stored_energy(cell.view()) == 0);
  }
}

TEST_CASE("cell (11): below empty voltage and self-discharge end with the charge") {
  CellParameters p = pouch_cell();
  p.self_discharge = Rate{1e-8};
  Alone cell = started(p, 0, 25);
  const double empty = impose(cell, 0);
  CHECK(empty == doctest::Approx(2.5199).epsilon(1e-12));
  // By hand: g = 0.02 * 12.836 V / 2.5199 V, w(-1 %) = 1/4 (3 - g - (2 - g)/2).
  const double g = 0.02 * (3.1617 - 2.5199) / 0.05 / 2.5199, w = 0.25 * (3 - g - (2 - g) / 2);
  cell.x[Cell::charge] = -0.01 * 4320;
  CHECK(impose(cell, 0) == doctest::Approx(2.5199 * w).epsilon(1e-12));
  CHECK(relative_error(-cell.rates()[Cell::charge], 4320e-8 * w) < 1e-12);
  CHECK(relative_error(cell.flow("self_discharge"), 2.5199 * w * 4320e-8 * w) < 1e-12);
  for (const double share : {-0.02, -0.03, -2.0}) {
    cell.x[Cell::charge] = share * 4320;
    CHECK(impose(cell, 0) == 0);
    CHECK(cell.rates()[Cell::charge] == 0);
    CHECK(cell.flow("self_discharge") == 0);
    CHECK(impose(cell, 0.1) > 0);  // it can be charged
    CHECK(cell.flow("charge_energy") == 0);
  }
  // No step and no kink where the curve ends, and it never rises on the way down.
  double before = 0;
  for (int i = 0; i <= 2000; ++i) {
    cell.x[Cell::charge] = (-0.02 + i * 1e-5) * 4320;
    const double now = impose(cell, 0);
    CHECK(now >= before);
    before = now;
  }
  const auto slope = [&](double share) {
    cell.x[Cell::charge] = (share - 1e-7) * 4320;
    const double low = impose(cell, 0);
    cell.x[Cell::charge] = (share + 1e-7) * 4320;
    return (impose(cell, 0) - low) / 2e-7;
  };
  CHECK(slope(-2e-7) == doctest::Approx(12.836).epsilon(1e-3));
  CHECK(slope(-0.02 + 2e-7) < 0.1);
}

TEST_CASE("cell (11): a curve that ends in a cliff falls no deeper than to nothing") {
  CellParameters p = plain_cell(1, 0.1, 0.1, 0.1);
  p.open_circuit_voltage = Curve({0, 0.001, 1}, {1, 3, 4}, Interpolation::monotone, Outside::extend);
  Alone cell = started(p, 0, 25);
  double before = 1;
  for (int i = 0; i <= 400; ++i) {
    cell.x[Cell::charge] = -i * 1e-4 * 3600;
    const double now = impose(cell, 0);
    CHECK(now >= 0);
    CHECK(now <= before);
    before = now;
  }
}

TEST_CASE("cell (10): the open-circuit voltage moves with temperature, and the heat of it is booked") {
  CellParameters p = plain_cell(2.0, 0.05, 0.03, 0.02);
  p.temperature_coefficient = Curve({0, 1}, {-0.0002, 0.0006}, Interpolation::linear, Outside::hold);
  p.self_discharge = Rate{1e-8};
  Alone cell = started(p, 0.75, 45);  // 0.4 mV/K
  CHECK(impose(cell, 0) == doctest::Approx(3.7 + 0.008).epsilon(1e-14));
  const double power = 0.3 * impose(cell, 0.3), t = 318.15, leak = 7200e-8 * 4;
  CHECK(relative_error(cell.flow("reversible_heat"), 0.0004 * t * 0.3) < 1e-12);
  CHECK(relative_error(cell.rates()[Cell::temperature], (0.0004 * t * 0.3 + 0.05 * 0.09) / 45) < 1e-9);
  CHECK(relative_error(cell.flow("self_discharge"), (3.708 - 0.0004 * t) * leak) < 1e-9);
  CHECK(relative_error(cell.flow("charge_energy"), (3.708 - 0.0004 * t) * (0.3 - leak)) < 1e-9);
  const double balance = cell.flow("charge_energy") + cell.flow("pair_energy") + cell.flow("series") +
                         cell.flow("pairs") + cell.flow("self_discharge") + cell.flow("reversible_heat");
  CHECK(balance == doctest::Approx(power).epsilon(1e-12));
  impose(cell, -0.3);
  CHECK(cell.flow("reversible_heat") < 0);  // discharging, it cools

  // Whatever the temperature, the store holds the same: integral of OCV - c T25, here c = -0.2 + 0.8 s mV/K.
  const double full = 0.75 * 3.7 - 298.15 * (-0.0002 * 0.75 + 0.0004 * 0.75 * 0.75);
  const double left = 0.01 * (3.7 + 0.0002 * 298.15);
  CHECK(relative_error(cell.model->stored_energy(cell.view()), 7200 * (full + left)) < 1e-12);
  cell.x[Cell::temperature] = celsius(-20).si();
  CHECK(relative_error(cell.model->stored_energy(cell.view()), 7200 * (full + left)) < 1e-12);
  // A dead cell has no voltage at any temperature.
  cell.x[Cell::charge] = -0.02 * 7200;
  CHECK(impose(cell, 0) == 0);
  CHECK(impose(cell, -0.1) == doctest::Approx(-0.005));
  CHECK(cell.flow("reversible_heat") == 0);
}

TEST_CASE("cell: each flow by hand while discharging at rest and in change") {
  CellParameters p = plain_cell(2.0, 0.05, 0.03, 0.02);
  p.self_discharge = Rate{1e-8};
  Alone cell = started(p, 0.5, 25);
  cell.x[Cell::pair_1] = -0.01;
  const double v = impose(cell, -0.4);
  CHECK(relative_error(cell.flow("charge_energy"), 3.7 * (-0.4 - 7200e-8)) < 1e-12);
  CHECK(relative_error(cell.flow("pair_energy"), 20 / 0.03 * -0.01 * (0.03 * -0.4 + 0.01) / 20) < 1e-9);
  CHECK(relative_error(cell.flow("series"), 0.05 * 0.16) < 1e-12);
  CHECK(relative_error(cell.flow("pairs"), 1e-4 / 0.03) < 1e-12);
  CHECK(cell.flow("parameter_drift") == doctest::Approx(0).scale(1e-15));
  CHECK(cell.flow("charge_in") == 0);
  CHECK(relative_error(cell.flow("charge_out"), 0.4) < 1e-12);
  CHECK(relative_error(cell.flow("throughput"), 0.4 * v) < 1e-12);
  impose(cell, 0.3);
  CHECK(relative_error(cell.flow("charge_in"), 0.3) < 1e-12);
  CHECK(cell.flow("charge_out") == 0);
  CHECK(cell.flow("throughput") > 0);
}

TEST_CASE("cell (8): drift of a pair whose resistance follows charge and temperature, by hand") {
  // R1 falls linearly from 0.06 to 0.02 ohm with charge; usable share 0.8 at 20 degC rising 0.01 per kelvin.
  CellParameters p = plain_cell(1.0, 0.1, 0.03, 0.02);
  p.pair_1_resistance = Curve({0, 1}, {0.06, 0.02}, Interpolation::linear, Outside::hold);
  p.usable_capacity = Curve({283.15, 303.15}, {0.7, 0.9}, Interpolation::linear, Outside::hold);
  p.activation_energy = 0.25 * electronvolt;
  Alone cell = started(p, 0.6, 20);
  cell.weather(air(30));
  cell.x[Cell::pair_1] = 0.02;
  impose(cell, -0.5);
  const std::vector<double> rate = cell.rates();
  const double f = 0.2, su = (0.6 - f) / 0.8, cold = as_cell(cell).resistances(cell.view()).pair_2.si() / 0.02;
  const double su_rate = rate[Cell::charge] / 3600 / 0.8 + (0.6 - 1) / 0.64 * (-0.01 * rate[Cell::temperature]);
  const double r1 = (0.06 - 0.04 * su) * cold;
  const double ln_cold_rate = -2901.1296 / (293.15 * 293.15) * rate[Cell::temperature];
  const double r1_rate = -0.04 * su_rate * cold + r1 * ln_cold_rate;
  const double c_rate = -20 / (r1 * r1) * r1_rate;
  CHECK(relative_error(cell.flow("parameter_drift"), -0.5 * 0.02 * 0.02 * c_rate) < 1e-6);
}

TEST_CASE("cell: below empty is damage from 0.1 % on, and the cell goes on") {
  Alone cell = started(pouch_cell(), 0.001, 20);
  CHECK(cell.due().empty());
  cell.x[Cell::charge] = -0.0009 * 4320;
  CHECK(cell.due().empty());
  cell.x[Cell::charge] = -0.0011 * 4320;
  CHECK(cell.due() == Names{"below empty"});
  CHECK(cell.event("below empty").role == EventRole::damage);
  CHECK_FALSE(cell.event("below empty").reset);
  CHECK(impose(cell, 0) < 2.5199);
  CHECK(cell.output("state_of_charge") < 0);
}

TEST_CASE("cell: charged above its limit is damage from 50 mV on, whatever the current") {
  CellParameters p = pouch_cell();
  p.charge_limit = Voltage{4.2};
  Alone cell = started(p, 1, 20);
  impose(cell, 0);
  CHECK(cell.due().empty());
  cell.z = {4.249, 0};
  CHECK(cell.due().empty());
  cell.z = {4.251, 0};
  CHECK(cell.due() == Names{"charged above limit"});
  cell.z = {4.0, 0};
  cell.x[Cell::charge] = 1.1 * 4320;  // by its datasheet's voltage it is not too full
  CHECK(cell.due().empty());
}

TEST_CASE("cell: without a charge_limit 102 % is too full") {
  CellParameters p = pouch_cell();
  p.charge_limit.reset();
  Alone cell = started(p, 1.019, 20);
  impose(cell, 0.1);
  CHECK(cell.due().empty());
  cell.x[Cell::charge] = 1.021 * 4320;
  CHECK(cell.due() == Names{"charged above full"});
}

TEST_CASE("cell: charged too cold is damage from 0.5 K and a thousandth of the capacity an hour on") {
  CellParameters p = pouch_cell();  // 1200 mAh
  Alone cool = started(p, 0.5, -0.4);
  cool.x[Cell::pair_1] = 0.01;
  impose(cool, 0.1);
  CHECK(cool.due().empty());
  Alone cell = started(p, 0.5, -0.6);
  impose(cell, 0.1);  // it has just begun
  CHECK(cell.due().empty());
  const double seen = cell.rates()[Cell::pair_1], ohm = seen / 0.1 * p.pair_1_time.si();  // R1
  cell.x[Cell::pair_1] = 1.19e-3 * ohm;
  CHECK(cell.due().empty());
  cell.x[Cell::pair_1] = 1.21e-3 * ohm;
  CHECK(cell.due() == Names{"charged too cold"});
  impose(cell, 1.19e-3);
  CHECK(cell.due().empty());
  impose(cell, 1.21e-3);
  CHECK(cell.due() == Names{"charged too cold"});
  impose(cell, -0.1);
  CHECK(cell.due().empty());
  p.charge_temperature_minimum = celsius(-10);
  Alone hardy = started(p, 0.5, -9);
  hardy.x[Cell::pair_1] = 0.01;
  impose(hardy, 0.1);
  CHECK(hardy.due().empty());
  Alone colder = started(p, 0.5, -11);
  colder.x[Cell::pair_1] = 0.01;
  impose(colder, 0.1);
  CHECK(colder.due() == Names{"charged too cold"});
}

TEST_CASE("cell: too hot") {
  Alone cell = started(pouch_cell(), 0.5, 89);
  CHECK(cell.due().empty());
  cell.x[Cell::temperature] = 364;
  CHECK(cell.due() == Names{"too hot"});
}

TEST_CASE("cell: above full the open-circuit voltage goes on with the end slope") {
  Alone cell = started(pouch_cell(), 1, 20);
  const double full = impose(cell, 0);
  cell.x[Cell::charge] = 1.01 * 4320;
  CHECK(impose(cell, 0) - full == doctest::Approx(0.01 * (4.1943 - 4.1158) / 0.05).epsilon(1e-9));
}

TEST_CASE("cell: findings") {
  CellParameters p = pouch_cell();
  p.open_circuit_voltage = Curve({0.1, 1}, {3, 4}, Interpolation::monotone, Outside::extend);
  CHECK(refused<Cell>(p) == Names{"open_circuit_voltage"});
  p.open_circuit_voltage = Curve({0, 0.9}, {3, 4}, Interpolation::monotone, Outside::extend);
  CHECK(refused<Cell>(p) == Names{"open_circuit_voltage"});
  p.open_circuit_voltage = Curve({0}, {3}, Interpolation::monotone, Outside::extend);
  CHECK(refused<Cell>(p) == Names{"open_circuit_voltage"});
  p.open_circuit_voltage = Curve({0, 0.5, 1}, {3, 4, 3.9}, Interpolation::monotone, Outside::extend);
  CHECK(refused<Cell>(p) == Names{"open_circuit_voltage"});
}

TEST_CASE("cell (9): an aged cell keeps its state of charge, and what its store loses is booked") {
  FaultValues values;
  values.by = 0.3;
  values.times = 2;
  const CellParameters p = pouch_cell(), old = faulty<Cell>(p, "aged", values);
  CHECK(old.capacity.si() == doctest::Approx(0.7 * p.capacity.si()));
  CHECK(old.series_resistance(0.4) == doctest::Approx(2 * p.series_resistance(0.4)));
  CHECK(old.pair_2_resistance(0.4) == doctest::Approx(2 * p.pair_2_resistance(0.4)));

  Alone cell = started(p, 0.8, 5);
  cell.x[Cell::pair_1] = 0.03;
  cell.x[Cell::pair_2] = -0.02;
  const double charge = cell.x[0], before = cell.model->stored_energy(cell.view());
  const std::vector<double> booked = cell.goes_on(build<Cell>(old).model);
  CHECK(cell.output("state_of_charge") == doctest::Approx(0.8).epsilon(1e-14));
  CHECK(cell.x[0] == doctest::Approx(0.7 * charge));
  const double after = cell.model->stored_energy(cell.view());
  CHECK(after < 0.75 * before);
  double stored = 0, lost = 0;
  for (std::size_t i = 0; i < booked.size(); ++i) {
    if (cell.table.flows[i].kind == FlowKind::stored) stored += booked[i];
    if (cell.table.flows[i].kind == FlowKind::lost) lost += booked[i];
  }
  CHECK(stored == doctest::Approx(after - before).epsilon(1e-12));
  CHECK(lost == doctest::Approx(before - after).epsilon(1e-12));
}
