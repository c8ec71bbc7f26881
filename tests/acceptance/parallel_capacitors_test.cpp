// Capacitors on the same two nets are one whose capacitance is the sum: textbook. A run with a reservoir and the 100 nF
// that a datasheet asks for beside it (common practice) is held against one with a single capacitor of the sum.
#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

class Count final : public RunWatcher {
 public:
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    ++events;
    if (h.event_name() == "wake completed") ++completed;
    if (h.event_name() == "collapse") ++collapses;
    if (h.event && (h.event->role == EventRole::cut || h.event->role == EventRole::brown_out)) ++failures;
  }
  std::size_t events = 0, completed = 0, collapses = 0, failures = 0;
};

/// A controller straight behind the switch, on stores that run down after every wake.
std::string scenario(const std::vector<std::string>& stores) {
  std::string parts, plus, minus;
  for (std::size_t i = 0; i < stores.size(); ++i) {
    const std::string name = "store-" + std::to_string(i);
    parts += "  " + name + ": {model: capacitor, series_resistance: 10 mohm, capacitance: " + stores[i] + "}\n";
    plus += ", " + name + ".plus";
    minus += ", " + name + ".minus";
  }
  return "scenario: stores side by side\n"
         "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\n"
         "span: {from: 2024-12-01, to: 2024-12-01}\n"
         "weather: {file: " +
         std::string(OVERWINTER_SOURCE) +
         "/scenarios/peat-bog.epw}\n"
         "parts:\n"
         "  cell: {part: lfp-18650-1500mah, charge: 90 %}\n"
         "  switch: {part: p-switch-logic-30mohm, gate_pull_up: 470 kohm}\n"
         "  clock: {part: clock-compensated}\n" +
         parts +
         "  logger:\n"
         "    part: controller-32bit-3v3\n"
         "    phases: [{name: measure, duration: 1 s, current: 5 mA}, {name: send, duration: 300 ms, current: 150 "
         "mA}]\n"
         "nets:\n"
         "  cell+: [cell.plus, switch.source, clock.supply]\n"
         "  load+: [switch.drain, logger.supply" +
         plus + "]\n  gnd: [cell.minus, clock.ground, logger.ground" + minus +
         "]\n"
         "lines:\n"
         "  wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: cell+, resistance: 1 Mohm}}\n"
         "  bus: {from: logger.bus, to: clock.bus}\n"
         "policy: {every: 10 min}\n";
}

struct Ran {
  Count count;
  double charge = 0;
};

Ran run(const std::vector<std::string>& stores) {
  const test::Scratch scratch;
  const test::Replayed bench(scratch.write("stores.yaml", scenario(stores)));
  Ran ran;
  SimulatorOptions options;
  options.look_closer = true;
  Simulator simulator(bench.diagram, bench.weather, options, &ran.count);
  Context c = simulator.start();
  simulator.advance(c, bench.weather.begin() + 6 * 3600 * ticks_per_second);
  for (const DiagramPart& part : bench.diagram.parts()) {
    if (part.name == "cell") ran.charge = c.state[part.state];
  }
  return ran;
}

}  // namespace

TEST_CASE("parallel capacitors: a reservoir with a decoupling capacitor beside it is one of the sum") {
  const Ran one = run({"47.1 uF"}), two = run({"47 uF", "100 nF"}), three = run({"100 nF", "40 uF", "7 uF"});
  CHECK(one.count.completed == 36);
  for (const Ran* side_by_side : {&two, &three}) {
    CHECK(side_by_side->count.completed == 36);
    CHECK(side_by_side->count.failures == 0);
    CHECK(side_by_side->count.collapses == 0);
    CHECK(side_by_side->count.events == one.count.events);
    CHECK(std::abs(side_by_side->charge - one.charge) < 1e-9);
  }
}
