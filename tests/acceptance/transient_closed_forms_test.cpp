// Transients against closed forms of textbooks.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "tests/acceptance/support/transient_bench.hpp"

using namespace overwinter;

namespace {

constexpr Tick microsecond = 1000, millisecond = 1000 * microsecond;

std::size_t net_of(const Diagram& diagram, const std::string& name) {
  const auto found = std::find(diagram.nets().begin(), diagram.nets().end(), name);
  REQUIRE(found != diagram.nets().end());
  return static_cast<std::size_t>(found - diagram.nets().begin());
}

std::size_t part_of(const Diagram& diagram, const std::string& name) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    if (diagram.parts()[p].name == name) return p;
  }
  FAIL("no part " << name);
  return 0;
}

double output_of(const Diagram& diagram, const Evaluator& system, const std::string& part, const std::string& name) {
  const std::size_t p = part_of(diagram, part);
  for (const Output& o : diagram.parts()[p].table->outputs) {
    if (o.name == name) return o.value(*diagram.parts()[p].model, system.view(p));
  }
  FAIL("no output " << name);
  return 0;
}

/// Follows a transient from a settled moment.
class Followed final : public RunWatcher {
 public:
  struct Row {
    double t;  ///< s from the begin
    std::vector<double> nets, watched;
  };

  /// `watched`: "part.output" each.
  Followed(const test::Replayed& bench, std::vector<std::pair<std::string, std::string>> watched)
      : bench_(bench), watched_(std::move(watched)) {}

  void run(const Context& from, Tick length, Tick sample = 0) {
    SimulatorOptions options = transient_options({});
    options.sample_every = sample;
    Simulator settled(bench_.diagram, bench_.weather, {}), transient(bench_.diagram, bench_.weather, options, this);
    begin_ = from.now;
    Context c = enter_transient(settled, transient, from);
    transient.advance(c, from.now + length);
  }
  void on_step(Tick t, const double*, Evaluator& system) override { row(t, system); }
  void on_sample(Tick t, const double*, Evaluator& system) override { row(t, system); }
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    events.push_back(h.part_name() + ", " + h.event_name());
  }
  double net(const Row& r, const std::string& name) const { return r.nets[net_of(bench_.diagram, name)]; }
  std::ptrdiff_t count(const std::string& event) const { return std::count(events.begin(), events.end(), event); }

  std::vector<Row> rows;
  std::vector<std::string> events;

 private:
  void row(Tick t, Evaluator& system) {
    Row r{static_cast<double>(t - begin_) / ticks_per_second, {}, {}};
    for (std::size_t n = 0; n < bench_.diagram.nets().size(); ++n) r.nets.push_back(system.net_voltage(n));
    for (const auto& [part, output] : watched_) r.watched.push_back(output_of(bench_.diagram, system, part, output));
    rows.push_back(std::move(r));
  }
  const test::Replayed& bench_;
  const std::vector<std::pair<std::string, std::string>> watched_;
  Tick begin_ = 0;
};

const std::string on_alarm = "clock, alarm", phase = "logger, phase begins";

/// A converter that turns all of its input power into output power.
const std::string lossless =
    "efficiency: {input: 1 5 V, load: 1 2000 mA, share: [100 100 %, 100 100 %]}, quiescent_enabled: 0 uA, "
    "quiescent_disabled: 0 uA";

}  // namespace

// Charge conservation, textbook: 100 uF at 6 V and 470 uF empty end at 6 V x 100/570.
TEST_CASE("charge sharing between two capacitors") {
  const std::string text =
      "scenario: charge sharing\n"
      "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\n"
      "span: {from: 2024-12-01, to: 2024-12-01}\n"
      "weather: {file: " OVERWINTER_SOURCE
      "/scenarios/peat-bog.epw}\n"
      "parts:\n"
      "  cell: {part: nmc-18650-3000mah, charge: 60 %}\n"
      "  clock: {part: clock-crystal, first_alarm: 1 min}\n"
      "  switch: {part: p-switch-logic-30mohm}\n"
      "  full: {model: capacitor, capacitance: 100 uF, series_resistance: 5 mohm}\n"
      "  empty: {model: capacitor, capacitance: 470 uF, series_resistance: 5 mohm}\n"
      "nets:\n"
      "  cell+: [cell.plus, clock.supply]\n"
      "  full+: [full.plus, switch.source]\n"
      "  empty+: [empty.plus, switch.drain]\n"
      "  gnd: [cell.minus, clock.ground, full.minus, empty.minus]\n"
      "lines:\n"
      "  wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: full+, resistance: 100 Mohm}}\n";
  const test::Scratch scratch;
  const test::Replayed bench(scratch.write("sharing.yaml", text));
  Simulator settled(bench.diagram, bench.weather, {});
  Followed seen(bench, {});
  Simulator transient(bench.diagram, bench.weather, transient_options({}), &seen);
  Context start = settled.start();
  const Tick at = start.now + 60 * ticks_per_second;
  settled.advance(start, at - millisecond);
  Context c = enter_transient(settled, transient, start);
  const DiagramPart& full = bench.diagram.parts()[part_of(bench.diagram, "full")];
  REQUIRE(full.table->states[0].name == "voltage");
  c.state[full.state] = 6.0;
  transient.resolve(c);
  transient.advance(c, at + 60 * millisecond);
  const double expected = 6.0 * 100 / 570;
  CHECK(expected == doctest::Approx(1.0526).epsilon(1e-4));
  CHECK(seen.net(seen.rows.back(), "full+") == doctest::Approx(expected).epsilon(1e-3));
  CHECK(seen.net(seen.rows.back(), "empty+") == doctest::Approx(expected).epsilon(1e-3));
}

// Maximum power transfer, textbook: behind E and R no more than E^2/(4 R) can be drawn, at E/2; below that a constant
// power P leaves V = E/2 (1 + sqrt(1 - 4 R P/E^2)). The converter is lossless and its lockout low.
TEST_CASE("constant-power limit of a source behind a resistance") {
  const auto bench_with = [](const std::string& watt) {
    return test::transient_bench({{"resistance: 0.2 ohm", "resistance: 3 ohm"},
                                  {"boost: {part: boost-5v-500ma-disconnect",
                                   "boost: {part: boost-5v-500ma-disconnect, lockout: 1 V, " + lossless},
                                  {"power: 1.5 W", "power: " + watt}});
  };
  // At the end of the burst, with the settled network's word for it and the transient's after 5 ms.
  struct Point {
    double volt, ampere;
  };
  const auto fed = [&](double watt) {
    const test::Replayed bench = bench_with(fmt::format("{:.6f} W", watt));
    const Context from = test::settled_before(bench, phase, 3, 10 * millisecond);
    Simulator settled(bench.diagram, bench.weather, {});
    const double volt = settled.at(from).net_voltage(net_of(bench.diagram, "pack+"));
    Followed seen(bench, {{"boost", "input_current"}});
    seen.run(from, 5 * millisecond);
    CHECK(seen.net(seen.rows.back(), "pack+") == doctest::Approx(volt).epsilon(1e-3));
    return Point{volt, seen.rows.back().watched.front()};
  };
  const Point a = fed(0.01), b = fed(0.3);
  const double r = (a.volt - b.volt) / (b.ampere - a.ampere), e = a.volt + r * a.ampere;
  CHECK(r == doctest::Approx(3.2).epsilon(0.02));  // lead, protector, a cold cell
  const double most = e * e / (4 * r), controller = 5.0 * 9e-3;
  for (const double share : {0.5, 0.9, 0.98}) {
    CHECK(fed(share * most - controller).volt == doctest::Approx(e / 2 * (1 + std::sqrt(1 - share))).epsilon(5e-3));
  }
  const test::Replayed beyond = bench_with(fmt::format("{:.6f} W", 1.02 * most - controller));
  test::FirstTimes events;
  Simulator settled(beyond.diagram, beyond.weather, {}, &events);
  Context c = settled.start();
  while (events.times.count("logger, phase begins") == 0) settled.advance_segment(c, beyond.weather.end());
  settled.advance(c, c.now + 190 * millisecond);
  CHECK(events.times.count("logger, brown-out") == 1);
}

// On the plateau all of the gate's current goes through Cgd: dV/dt = I/Cgd, textbook (Miller effect); a capacitor that
// is charged with that slope draws C dV/dt, definition of capacitance. Here the channel's conductance depends on the
// gate smoothly, so that the gate moves a little while the drain does: 5 %.
TEST_CASE("slew of a gate behind a resistor, and the inrush that follows from it") {
  const test::Replayed bench = test::transient_bench(
      {{"p-switch-logic-30mohm, gate_pull_up: 1 Mohm",
        "p-switch-logic-30mohm, gate_capacitance: 20 nF, reverse_capacitance: 15 nF"},
       {"pull_up: {net: rail, resistance: 1 Mohm}", "pull_up: {net: rail, resistance: 10 Mohm, series: 100 kohm}"}});
  const Context from = test::settled_before(bench, on_alarm, 1, 100 * microsecond);
  Followed seen(bench, {{"switch", "current"}});
  seen.run(from, 10 * millisecond, 5 * microsecond);
  double drain_current = 0, steepest = 0, gate_current = 0;
  for (std::size_t i = 1; i < seen.rows.size(); ++i) {
    const auto &before = seen.rows[i - 1], &now = seen.rows[i];
    const double drain = seen.net(now, "instrument+");
    if (drain < 2 || drain > 3 || now.t - before.t < 1e-7) continue;
    const double slope = (drain - seen.net(before, "instrument+")) / (now.t - before.t);
    if (slope < steepest) continue;
    steepest = slope;
    drain_current = now.watched.front();
    gate_current = seen.net(now, "wake") / 100e3 - (seen.net(now, "rail") - seen.net(now, "wake")) / 10e6;
  }
  CHECK(steepest == doctest::Approx(gate_current / 15e-9).epsilon(0.05));
  CHECK(drain_current == doctest::Approx(100e-6 * steepest).epsilon(0.01));
}

// A converter behind E and R that draws Istart when it starts falls below its lockout Uf if E - R Istart < Uf, and
// comes back by itself if E > Ur, Uf and its hysteresis: after an inrush that locks it out it cycles if and only if
// both hold. Istart is the input current limit here, for the rail's capacitor is large and its
// soft start would ask for more. Both conditions on both sides.
TEST_CASE("limit cycle of a lockout") {
  constexpr double limit = 0.5, lead = 1.5, others = 0.17;  // A, ohm; protector 0.05, a cold cell 0.12
  constexpr double apart = 0.06;                            // V, from a condition's edge
  struct Count {
    double source;
    std::ptrdiff_t lockouts, starts;
  };
  const auto counted = [&](double lockout, double hysteresis) {
    const test::Replayed bench = test::transient_bench(
        {{"resistance: 0.2 ohm", fmt::format("resistance: {} ohm", lead)},
         {"boost-5v-500ma-disconnect",
          fmt::format(
              "boost-5v-500ma-disconnect, current_limit: {} A, lockout: {:.4f} V, lockout_hysteresis: {:.4f} V, "
              "retry: 5 ms, soft_start: 45 ms",
              limit, lockout, hysteresis)},
         {"reservoir: {part: ceramic-100uf}",
          "reservoir: {model: capacitor, capacitance: 5 mF, series_resistance: 20 mohm}"}});
    const Context from = test::settled_before(bench, on_alarm, 1, millisecond);
    Simulator settled(bench.diagram, bench.weather, {});
    const double source = settled.at(from).net_voltage(net_of(bench.diagram, "pack+"));
    Followed seen(bench, {});
    seen.run(from, 80 * millisecond);
    return Count{source, seen.count("boost, lockout"), seen.count("boost, start")};
  };
  const double source = counted(2.5, 0.1).source, loaded = source - (lead + others) * limit;
  const Count bears = counted(loaded - apart, 0.1);
  CHECK(bears.lockouts <= 1);
  CHECK(bears.starts == bears.lockouts);
  const double above = loaded + apart;
  CHECK(counted(above, 0.1).lockouts > 5);
  CHECK(counted(above, source - above - apart / 2).lockouts > 5);
  const Count stays = counted(above, source - above + apart / 2);
  CHECK(stays.lockouts == 1);
  CHECK(stays.starts == 0);
}
