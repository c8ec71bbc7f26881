#include "sim/why/trial.hpp"

#include <doctest/doctest.h>

#include "tests/sim/service/support/scripted.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;
using test::days, test::hours;

namespace {

BrownOut from_to(Tick begin, Tick end) {
  BrownOut b;
  b.begin = begin;
  b.end = end;
  return b;
}

}  // namespace

TEST_CASE("a brown-out is to be avoided until the light is back, and until its relapses are over") {
  const Weather weather = test::march(20, {4, 5, 6, 7, 10});
  const SunnyDays sky(weather);
  const Tick begin = weather.begin(), end = weather.end();
  ServiceRecord record;
  // Back on 4 March at 6 h; 5, 6 and 7 March are dull, 8 March is sunny.
  record.brownouts = {from_to(begin + 2 * days, begin + 3 * days + 6 * hours)};
  CHECK(avoided_until(record, 0, sky, begin, end) == begin + 8 * days);
  // A relapse on the 7th that ends on the 9th: the 10th is dull, the 11th sunny.
  record.brownouts.push_back(from_to(begin + 6 * days, begin + 8 * days + hours));
  CHECK(avoided_until(record, 0, sky, begin, end) == begin + 11 * days);
  CHECK(avoided_until(record, 1, sky, begin, end) == begin + 11 * days);
  // One on the 13th is another death.
  record.brownouts.push_back(from_to(begin + 12 * days, end));
  CHECK(avoided_until(record, 0, sky, begin, end) == begin + 11 * days);
  CHECK(avoided_until(record, 2, sky, begin, end) == end);
}

TEST_CASE("a trial counts what a run counts, and ends where there are too many") {
  const test::Replayed run(read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/recovers.yaml",
                                         {{"cell.charge", "5 %"}, {"span", "{from: 2024-09-26, to: 2024-09-28}"}}));
  const RunResult whole = simulate(run.scenario, run.weather, run.diagram, {}, {});
  const std::vector<BrownOut>& all = whole.service->brownouts;
  REQUIRE(!all.empty());
  const auto trial = replay_until(run.scenario, run.weather, {}, run.weather.end(), 99);
  REQUIRE(trial);
  CHECK(trial->brownouts == all.size());
  CHECK(trial->last == all.back().begin);
  const auto ended = replay_until(run.scenario, run.weather, {}, run.weather.end(), 0);
  REQUIRE(ended);
  CHECK(ended->brownouts == 1);
  CHECK(ended->last == all.front().begin);
  const auto before = replay_until(run.scenario, run.weather, {}, all.front().begin - hours, 0);
  REQUIRE(before);
  CHECK(before->brownouts == 0);
  CHECK(!before->last);
}
