#include "sim/replay/simulate.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "sim/stop.hpp"
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

TEST_CASE("a run in memory: its limit ends it where it stands, and the ledger closes there") {
  const test::Replayed b("scenarios/outcomes/survives.yaml", {2024, 10, 15}, {2025, 3, 31});
  RunOptions options;
  options.limit = 0.1;
  Tick told = 0;
  options.progress = [&](Tick reached, double) { told = reached; };
  const RunResult r = simulate(b.scenario, b.weather, b.diagram, options, {});
  REQUIRE(r.cut_short);
  CHECK(*r.cut_short > b.weather.begin());
  CHECK(*r.cut_short < b.weather.end());
  CHECK(told == *r.cut_short);
  CHECK(r.survives == Held::undecided);
  CHECK(r.summary.at("cut_short").at("reached") == iso_time(*r.cut_short));
  CHECK(r.summary.at("service").at("longest_gap").at("to") <= iso_time(*r.cut_short));
  CHECK(std::abs(r.summary.at("energy").at("residual_independent").get<double>()) < 1e-8);
  CHECK(std::abs(r.summary.at("energy").at("residual_ledger").get<double>()) < 1e-9);
  // The same span simulated to its end has the same wakes up to there.
  const Tick day = (*r.cut_short - b.weather.begin()) / ticks_per_day;
  REQUIRE(r.service);
  const RunResult whole = simulate(b.scenario, b.weather, b.diagram, {}, {});
  std::size_t until = 0;
  for (const Tick t : whole.service->completed_at) until += t <= *r.cut_short;
  CHECK(r.service->completed == until);
  CHECK(day > 0);
}

TEST_CASE("a run in memory: what looks at every step may end it") {
  const test::Replayed b("scenarios/outcomes/survives.yaml", {2025, 3, 1}, {2025, 3, 2});
  RunOptions options;
  std::size_t looks = 0;
  options.look = [&] {
    if (++looks == 50) throw Stopped{15};
  };
  CHECK_THROWS_AS(simulate(b.scenario, b.weather, b.diagram, options, {}), Stopped);
  CHECK(looks == 50);
}
