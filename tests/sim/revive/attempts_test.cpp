#include "sim/revive/attempts.hpp"

#include <doctest/doctest.h>

#include "models/control/controller.hpp"
#include "tests/sim/revive/support/revive_bench.hpp"

using namespace overwinter;

namespace {

/// Tells of events of the phantom supply's controller, by their roles.
struct Telling {
  test::ReviveBench bench{"outcomes/phantom-supply.yaml"};
  const DiagramPart& logger = bench.run.diagram.parts()[bench.part("logger")];
  Simulator simulator{bench.run.diagram, bench.dawns[0].weather, {}};
  Context context = simulator.start();
  Attempts attempts{bench.run.diagram};

  explicit Telling(std::int32_t mode = Controller::off) {
    context.memory[logger.memory + Controller::mode] = mode;
    attempts.begin(context);
  }
  std::size_t event(EventRole role) const {
    for (std::size_t e = 0; e < logger.table->events.size(); ++e) {
      if (logger.table->events[e].role == role) return e;
    }
    throw std::logic_error("no such event");
  }
  void tell(EventRole role, Tick at = 0) {
    attempts.on_happening({at, 0, &logger, &logger.table->events[event(role)]}, context.state.data(),
                          simulator.at(context));
  }
  CycleEvent of_cycle(EventRole role) const { return {0, bench.part("logger"), event(role)}; }
  double& flow(const std::string& name) {
    for (std::size_t f = 0; f < logger.table->flows.size(); ++f) {
      if (logger.table->flows[f].name == name) return context.state[bench.run.diagram.states() + logger.flow + f];
    }
    throw std::logic_error("no such flow");
  }
};

}  // namespace

TEST_CASE("attempts: a start that browns out is in vain, and so is power that never becomes valid") {
  Telling t;
  t.tell(EventRole::power_came);
  t.tell(EventRole::power_gone);
  CHECK(t.attempts.starts() == 0);
  CHECK(t.attempts.in_vain() == 1);
  t.tell(EventRole::power_came);
  t.tell(EventRole::wake_begins);
  CHECK(t.attempts.in_vain() == 1);  // it may still succeed
  t.tell(EventRole::brown_out);
  t.tell(EventRole::power_gone);
  CHECK(t.attempts.in_vain() == 2);
  t.tell(EventRole::power_came);
  t.tell(EventRole::wake_begins);
  t.tell(EventRole::wake_completed, 17);
  CHECK(t.attempts.in_vain() == 2);
  CHECK(t.attempts.starts() == 2);
  CHECK(t.attempts.completed() == std::vector<Tick>{17});
}

TEST_CASE("attempts: what fails is a part that cuts off, and a controller that browns out") {
  Telling t;
  t.tell(EventRole::power_came);
  t.tell(EventRole::wake_begins);
  t.tell(EventRole::brown_out);
  t.tell(EventRole::power_gone);
  CHECK(t.attempts.failures() == 1);
  const DiagramPart& boost = t.bench.run.diagram.parts()[t.bench.part("boost")];
  for (const Event& event : boost.table->events) {
    if (event.role == EventRole::none) continue;
    const double before = t.attempts.failures();
    t.attempts.on_happening({0, 0, &boost, &event}, t.context.state.data(), t.simulator.at(t.context));
    CAPTURE(event.name);
    CHECK(t.attempts.failures() - before == (event.role == EventRole::cut ? 1 : 0));
  }
  CHECK(t.attempts.failures() > 1);
  CHECK(t.attempts.starts() == 1);
}

TEST_CASE("attempts: a run that begins in the middle of a start, and one that begins in reset") {
  CHECK(Telling(Controller::booting).attempts.starts() == 1);
  Telling waits(Controller::reset);
  CHECK(waits.attempts.starts() == 0);
  waits.tell(EventRole::power_gone);
  CHECK(waits.attempts.in_vain() == 1);
}

TEST_CASE("attempts: energy counts until the first completed wake began") {
  Telling t;
  t.flow("reset") += 0.5;
  t.flow("phases") += 2;
  CHECK(t.attempts.energy(t.context) == doctest::Approx(2.5));
  t.tell(EventRole::wake_begins);
  t.flow("phases") += 3;
  CHECK(t.attempts.energy(t.context) == doctest::Approx(5.5));
  t.tell(EventRole::wake_completed);
  CHECK(t.attempts.energy(t.context) == doctest::Approx(2.5));
  t.flow("phases") += 3;
  t.tell(EventRole::wake_begins);
  t.flow("phases") += 3;
  t.tell(EventRole::wake_completed);
  CHECK(t.attempts.energy(t.context) == doctest::Approx(2.5));
}

TEST_CASE("attempts: of a leap they are counted as often as its cycle came") {
  Telling t;
  Leap leap;
  leap.first.events = {t.of_cycle(EventRole::power_came), t.of_cycle(EventRole::wake_begins),
                       t.of_cycle(EventRole::brown_out), t.of_cycle(EventRole::power_came)};
  leap.first.times = 10;
  leap.then.events = {t.of_cycle(EventRole::wake_begins), t.of_cycle(EventRole::brown_out)};
  leap.then.times = 2.5;
  t.attempts.on_leap(leap);
  CHECK(t.attempts.starts() == doctest::Approx(12.5));
  CHECK(t.attempts.in_vain() == doctest::Approx(22.5));
  CHECK(t.attempts.failures() == doctest::Approx(12.5));
}

TEST_CASE("attempts: a loop that is stepped over brings about as many, and takes as much, as one that is not") {
  const test::Replayed run("scenarios/mechanisms/reset-loop.yaml", {2025, 1, 10}, {2025, 1, 10});
  const auto half_an_hour = [&](bool over) {
    SimulatorOptions options;
    options.step_over_hiccups = over;
    Attempts attempts(run.diagram);
    Simulator simulator(run.diagram, run.weather, options, &attempts);
    Context c = simulator.start();
    attempts.begin(c);
    simulator.advance(c, run.weather.begin() + 1800 * ticks_per_second);
    CHECK((simulator.steps().leaps > 0) == over);
    return std::pair(attempts.in_vain(), attempts.energy(c));
  };
  const auto one_by_one = half_an_hour(false), leaping = half_an_hour(true);
  CHECK(one_by_one.first > 1000);
  CHECK(leaping.first == doctest::Approx(one_by_one.first).epsilon(0.01));
  CHECK(leaping.second == doctest::Approx(one_by_one.second).epsilon(0.01));
}
