#include "sim/replay/simulate.hpp"

#include <doctest/doctest.h>

#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("a run in memory: watchers beside it see it and change nothing; nothing tells of the clock on the wall") {
  struct Counter final : RunWatcher {
    std::size_t steps = 0;
    void on_step(Tick, const double*, Evaluator&) override { ++steps; }
  } counter;
  const test::Replayed b("scenarios/outcomes/survives.yaml", {2025, 3, 1}, {2025, 3, 2});
  const RunResult alone = simulate(b.scenario, b.weather, b.diagram, {}, {});
  const RunResult watched = simulate(b.scenario, b.weather, b.diagram, {}, {&counter});
  CHECK(alone.summary.dump() == watched.summary.dump());
  CHECK(counter.steps > 100);
  REQUIRE(alone.service);
  CHECK(alone.service->completed == alone.summary.at("service").at("wakes_completed"));
  // Two days have no worst week.
  CHECK(alone.summary.at("verdict").at("survives").is_null());
  CHECK(alone.survives == Held::undecided);
  CHECK_FALSE(alone.summary.at("engine").contains("wall_s"));
}

TEST_CASE("a run in memory: where nothing wakes, damage alone is judged") {
  const test::Replayed b("scenarios/peat-bog-harvest.yaml", {2025, 3, 1}, {2025, 3, 1});
  const RunResult r = simulate(b.scenario, b.weather, b.diagram, {}, {});
  CHECK_FALSE(r.service);
  CHECK(r.survives == Held::yes);
  CHECK(r.summary.at("verdict").at("survives") == true);
  CHECK(r.summary.at("requirements").size() == 1);
}
