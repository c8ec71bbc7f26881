// Transients against SUNDIALS CVODES (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31(3), 363-396): its BDF formulas
// of order 1 to 5 integrate all states of the same equations at a tolerance of 1 nV in place of 0.1 mV, where the stiff
// stepper holds the slow ones still and linearises the fast ones. Lowest voltages within 1 mV, times of what happens
// within 1 us. Events are searched for on each method's own interpolant.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "tests/acceptance/support/transient_bench.hpp"
#include "tools/benchmark/cvode_stepper.hpp"

using namespace overwinter;

namespace {

constexpr Tick microsecond = 1000, millisecond = 1000 * microsecond;
constexpr double fine = 2e-11;  // of each state's scale, 50 V: 1 nV

struct Seen {
  std::map<std::string, double> lowest, highest, last;  ///< V, by net
  std::vector<std::pair<std::string, Tick>> events;     ///< from the begin
  std::size_t steps = 0;

  Tick first(const std::string& event) const {
    const auto found = std::find_if(events.begin(), events.end(), [&](const auto& e) { return e.first == event; });
    return found == events.end() ? never : found->second;
  }
};

class Course final : public RunWatcher {
 public:
  Course(const Diagram& diagram, Tick begin) : diagram_(diagram), begin_(begin) {}
  void on_step(Tick, const double*, Evaluator& system) override { look(system); }
  void on_sample(Tick, const double*, Evaluator& system) override { look(system); }
  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    look(system);
    seen.events.push_back({h.part_name() + ", " + h.event_name(), h.time - begin_});
  }
  Seen seen;

 private:
  void look(Evaluator& system) {
    for (std::size_t n = 0; n < diagram_.nets().size(); ++n) {
      const double v = system.net_voltage(n);
      const std::string& net = diagram_.nets()[n];
      seen.lowest.insert({net, v}).first->second = std::min(seen.lowest.insert({net, v}).first->second, v);
      seen.highest.insert({net, v}).first->second = std::max(seen.highest.insert({net, v}).first->second, v);
      seen.last[net] = v;
    }
  }
  const Diagram& diagram_;
  const Tick begin_;
};

Seen course(const test::Replayed& bench, const Context& from, Tick length, Tick sample, bool oracle) {
  SimulatorOptions options = transient_options({});
  options.sample_every = sample;
  if (oracle) {
    options.tolerance = fine;
    options.make_stepper = [](const StepperSettings& s) { return make_cvode_stepper(s, CvodeVariant::bdf); };
  }
  Simulator settled(bench.diagram, bench.weather, {});
  Course watcher(bench.diagram, from.now);
  Simulator transient(bench.diagram, bench.weather, options, &watcher);
  Context c = enter_transient(settled, transient, from);
  transient.advance(c, from.now + length);
  watcher.seen.steps = transient.steps().accepted;
  return watcher.seen;
}

struct Mechanism {
  test::Edits edits;
  std::string begins;  ///< with this event of the settled run
  int times = 1;       ///< its n-th
  Tick length = 5 * millisecond;
  Tick sample = microsecond;
};

constexpr Tick lead_in = 20 * microsecond;

/// Both courses; what must agree does.
Seen agreed(const Mechanism& m) {
  const test::Replayed bench = test::transient_bench(m.edits);
  const Context from = test::settled_before(bench, m.begins, m.times, lead_in);
  const Seen product = course(bench, from, m.length, m.sample, false),
             oracle = course(bench, from, m.length, m.sample, true);
  REQUIRE(product.events.size() == oracle.events.size());
  for (std::size_t i = 0; i < product.events.size(); ++i) {
    CAPTURE(oracle.events[i].first);
    CHECK(product.events[i].first == oracle.events[i].first);
    CHECK(std::abs(product.events[i].second - oracle.events[i].second) <= microsecond);
  }
  for (const char* net : {"rail", "pack+", "instrument+"}) {
    CAPTURE(net);
    CHECK(std::abs(product.lowest.at(net) - oracle.lowest.at(net)) < 1e-3);
    CHECK(std::abs(product.highest.at(net) - oracle.highest.at(net)) < 1e-3);
    CHECK(std::abs(product.last.at(net) - oracle.last.at(net)) < 1e-3);
  }
  return oracle;
}

const std::string on_alarm = "clock, alarm", phase = "logger, phase begins";

}  // namespace

TEST_CASE("transients against BDF: the rail shares its charge with an empty reservoir") {
  const Seen seen = agreed({{}, on_alarm});
  CHECK(seen.lowest.at("rail") < 2);
  CHECK(seen.first("boost, lockout") == never);
}

TEST_CASE("transients against BDF: a burst locks out the converter of a sagging cell, again and again") {
  const Seen seen = agreed({{{"charge: 60 %", "charge: 12 %"},
                             {"resistance: 0.2 ohm", "resistance: 1.5 ohm"},
                             {"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, lockout: 2.7 V, retry: 5 ms"},
                             {"reservoir: {part: ceramic-100uf}", "reservoir: {part: electrolytic-470uf}"}},
                            phase,
                            2,
                            60 * millisecond,
                            10 * microsecond});
  CHECK(seen.first("boost, lockout") != never);
  CHECK(seen.first("boost, start") != never);
}

TEST_CASE("transients against BDF: an inrush locks out the converter, which then starts softly into 470 uF") {
  const Seen seen = agreed(
      {{{"charge: 60 %", "charge: 12 %"},
        {"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, lockout: 3.0 V, retry: 5 ms, soft_start: 10 ms"},
        {"reservoir: {part: ceramic-100uf}", "reservoir: {part: electrolytic-470uf}"}},
       on_alarm,
       1,
       40 * millisecond,
       5 * microsecond});
  CHECK(seen.first("boost, lockout") < millisecond);
  CHECK(seen.lowest.at("rail") < 2);
  CHECK(seen.first("boost, feeds") != never);
  CHECK(seen.first("logger, boot") != never);
  CHECK(seen.last.at("rail") > 4.9);
}

TEST_CASE("transients against BDF: the input current limit lets the rail droop") {
  const Seen seen =
      agreed({{{"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, current_limit: 0.35 A"}}, phase, 2});
  CHECK(seen.lowest.at("rail") < 4.9);
  CHECK(seen.first("boost, current limit") != never);
}

TEST_CASE("transients against BDF: a gate behind 100 kohm turns on slowly") {
  const Seen seen = agreed(
      {{{"p-switch-logic-30mohm, gate_pull_up: 1 Mohm",
         "p-switch-logic-30mohm, gate_capacitance: 20 nF, reverse_capacitance: 15 nF"},
        {"pull_up: {net: rail, resistance: 1 Mohm}", "pull_up: {net: rail, resistance: 1 Mohm, series: 100 kohm}"}},
       on_alarm,
       1,
       10 * millisecond});
  CHECK(seen.lowest.at("rail") > 4.5);
  CHECK(seen.first("logger, boot") > millisecond);
}

TEST_CASE("transients against BDF: a locked-out converter without disconnect passes an inrush through") {
  const Seen seen = agreed({{{"boost-5v-500ma-disconnect", "boost-5v-1a, lockout: 4.4 V"}}, on_alarm});
  CHECK(seen.lowest.at("pack+") < 3.4);
}

TEST_CASE("transients against BDF: a protector trips by over-current") {
  const Seen seen = agreed({{{"guard: {part: protector-2a5-voltage}",
                              "guard: {part: protector-2a5-voltage, overcurrent: 0.4 A, overcurrent_delay: 1 ms}\n"
                              "  input: {model: capacitor, capacitance: 10 uF, series_resistance: 5 mohm}"},
                             {"pack+: [", "pack+: [input.plus, "},
                             {"gnd: [", "gnd: [input.minus, "}},
                            phase,
                            2,
                            20 * millisecond,
                            4 * microsecond});
  CHECK(seen.first("guard, over-current trip") != never);
  CHECK(seen.first("boost, lockout") != never);
}

TEST_CASE("transients against BDF: a second switch pulls the controller below its brown-out threshold") {
  const Seen seen = agreed({{}, phase, 3});
  CHECK(seen.first("logger, brown-out") != never);
  CHECK(seen.lowest.at("instrument+") < 4);
}
