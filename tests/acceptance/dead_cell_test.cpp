// A cell that is left alone, in a scenario of its own: what it gives when it is dead, and what months in the heat do.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "models/storage/cell.hpp"
#include "sim/engine/diagram.hpp"
#include "sim/engine/evaluator.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

struct Left final : RunWatcher {
  Left(const Diagram& d, const DiagramPart& c) : cell(c), index(static_cast<std::size_t>(&c - d.parts().data())) {}
  void on_step(Tick, const double* state, Evaluator& system) override {
    const View view = system.view(index);
    lowest_voltage = std::min(lowest_voltage, view.z[0] - view.z[1]);
    lowest_charge = std::min(lowest_charge, state[cell.state]);
  }
  const DiagramPart& cell;
  std::size_t index;
  double lowest_voltage = 1e9, lowest_charge = 1e9;  // V, A s
};

const DiagramPart& part(const Diagram& d, const std::string& name) {
  return *std::find_if(d.parts().begin(), d.parts().end(), [&](const DiagramPart& p) { return p.name == name; });
}

double flow(const Diagram& d, const Context& c, const DiagramPart& p, const std::string& name) {
  const auto& flows = p.model->table().flows;
  const auto found = std::find_if(flows.begin(), flows.end(), [&](const Flow& f) { return f.name == name; });
  REQUIRE(found != flows.end());
  return c.state[d.states() + p.flow + static_cast<std::size_t>(found - flows.begin())];
}

/// One temperature throughout, and the same light from six to eighteen.
void write_weather(const test::Scratch& scratch, double celsius, double light) {
  StationYear year;
  year.place = "Test station";
  for (std::size_t h = 0; h < hours_per_year; ++h) {
    StationRecord r;
    r.air_celsius = celsius;
    r.global_horizontal = r.diffuse_horizontal = h % 24 >= 6 && h % 24 < 18 ? light : 0;
    year.hours.push_back(r);
  }
  year.source_years = {2001};
  scratch.write("still.epw", epw_text(year, "TEST", "made by a test", "one temperature"));
}

}  // namespace

TEST_CASE("a dead cell: a load gets what was left in it, and never more") {
  // 1 % of a cell of 3 Ah and a load of 1 kohm; it leaks away 20 % of its capacity a month beside. Left alone for 90
  // days, which took it to -4.4 V once: below empty the curve was a straight line, and self-discharge went on.
  const test::Scratch scratch;
  write_weather(scratch, 20, 0);
  const test::Replayed bench(
      scratch.write("dead.yaml",
                    "scenario: dead\nspan: {from: 2025-01-01, to: 2025-03-31}\nweather: {file: still.epw}\nparts:\n"
                    "  cell: {part: nmc-18650-3000mah, charge: 1 %, self_discharge: 20 %/month}\n"
                    "  load: {model: load, kind: resistance, resistance: 1 kohm}\n"
                    "nets:\n  pack+: [cell.plus, load.plus]\n  gnd: [cell.minus, load.minus]\n"));
  const DiagramPart &cell = part(bench.diagram, "cell"), &load = part(bench.diagram, "load");
  Left left(bench.diagram, cell);
  Simulator simulator(bench.diagram, bench.weather, {}, &left);
  Context c = simulator.start();
  const double held = simulator.at(c).stored_energy();
  // 1 % at 2.8 V and the remainder of 2 % at half of 2.7 V: 0.03 Ah or 600 J at most.
  CHECK(held > 500);
  CHECK(held < 650);
  simulator.advance(c, bench.weather.end());
  CHECK(left.lowest_voltage >= 0);
  CHECK(left.lowest_voltage < 0.05);
  CHECK(left.lowest_charge >= -0.02 * 3 * 3600);
  const double delivered = flow(bench.diagram, c, load, "used"),
               leaked = flow(bench.diagram, c, cell, "self_discharge");
  CHECK(delivered > 0);
  CHECK(leaked > 0);
  const double ohmic = flow(bench.diagram, c, cell, "series") + flow(bench.diagram, c, cell, "pairs"),
               drift = flow(bench.diagram, c, cell, "parameter_drift");
  CHECK(delivered + leaked + ohmic + drift + simulator.at(c).stored_energy() == doctest::Approx(held).epsilon(1e-8));
  CHECK(simulator.at(c).stored_energy() < 0.01 * held);
}

TEST_CASE("a hot cell: months at 40 degC leave it empty and not below, and it takes its whole charge again") {
  // 30 % of a cell, 2 % a month at 25 degC and 5.66 % at 40 degC: empty after five months. After ten the panel's joint
  // is made; then what the cell holds must have been put in.
  const test::Scratch scratch;
  write_weather(scratch, 40, 700);
  const test::Replayed bench(
      scratch.write("hot.yaml",
                    "scenario: hot\nspan: {from: 2025-01-01, to: 2025-12-31}\nweather: {file: still.epw}\nparts:\n"
                    "  panel: {part: panel-6v-330ma, tilt: 0 deg, azimuth: 0 deg}\n  diode: {part: schottky-1a-40v}\n"
                    "  charger: {part: charger-linear-100ma, reverse_leakage: 0 uA}\n"
                    "  cell: {part: nmc-18650-3000mah, charge: 30 %}\n"
                    "nets:\n  panel+: [panel.plus, diode.anode]\n  sun: [diode.cathode, charger.in]\n"
                    "  pack+: [charger.out, cell.plus]\n  gnd: [panel.minus, charger.ground, cell.minus]\n"
                    "lines:\n  warmth: {from: cell.temperature, to: charger.temperature}\n"
                    "faults: [{part: panel, fault: open, at: 2025-01-01, for: 304 d}]\n"));
  const DiagramPart& cell = part(bench.diagram, "cell");
  Left left(bench.diagram, cell);
  Simulator simulator(bench.diagram, bench.weather, {}, &left);
  Context c = simulator.start();
  constexpr double capacity = 3 * 3600;
  const Tick joined = bench.weather.begin() + 304 * ticks_per_day;
  simulator.advance(c, joined);
  const double before = c.state[cell.state];
  CHECK(before < -0.015 * capacity);
  CHECK(left.lowest_charge >= -0.02 * capacity);
  CHECK(left.lowest_voltage >= 0);
  // All that it held is gone as self-discharge, from 30 % to where it is now.
  CHECK(flow(bench.diagram, c, cell, "charge_in") + flow(bench.diagram, c, cell, "charge_out") < 1e-6 * capacity);
  simulator.advance(c, bench.weather.end());
  const double after = c.state[cell.state], in = flow(bench.diagram, c, cell, "charge_in");
  CHECK(after > 0.95 * capacity);
  CHECK(in - flow(bench.diagram, c, cell, "charge_out") >= after - before);
}
