#include "sim/revive/revive.hpp"

#include <doctest/doctest.h>
#include <signal.h>

#include <filesystem>
#include <numeric>
#include <set>

#include "sim/input_error.hpp"
#include "sim/replay/replay.hpp"
#include "tests/support/processes.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

const std::string lamp = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/needs-human.yaml";

ReviveOptions into(const std::string& folder, std::vector<std::string> suppose, std::size_t jobs = 1) {
  ReviveOptions options;
  options.out = folder;
  options.jobs = jobs;
  options.date = CivilDate{2024, 10, 3};
  options.days = 1;
  options.suppose = std::move(suppose);
  return options;
}

std::string fault(const Scenario& scenario, const ReviveOptions& options) {
  try {
    revive(scenario, options);
  } catch (const InputError& e) {
    CHECK_FALSE(fs::exists(options.out));
    return std::string("\n") + e.what() + "\n";
  }
  return "revived";
}

}  // namespace

TEST_CASE("revive: the same to the byte with one worker, with three, and with a fresh one for every state") {
  const test::Scratch scratch;
  const Scenario scenario = read_scenario(lamp);
  const std::vector<std::string> some{"dawn=clear", "charge=0.5 %", "charge=40 %"};
  const ReviveResult alone = revive(scenario, into(scratch.path("one"), some)),
                     three = revive(scenario, into(scratch.path("three"), some, 3));
  ReviveOptions short_lived = into(scratch.path("replaced"), some, 2);
  short_lived.years_per_worker = 0;
  revive(scenario, short_lived);
  CHECK(test::children_of(::getpid()).empty());
  CHECK(scratch.read("one/revive.csv") == scratch.read("three/revive.csv"));
  CHECK(scratch.read("one/revive.csv") == scratch.read("replaced/revive.csv"));
  auto summary = alone.summary, other = three.summary;
  CHECK(summary.at("engine").at("jobs") == 1);
  summary.erase("engine");
  other.erase("engine");
  CHECK(summary.dump() == other.dump());
}

TEST_CASE("revive: its counts add up") {
  const test::Scratch scratch;
  const Scenario scenario = read_scenario(lamp);
  const ReviveResult alone = revive(scenario, into(scratch.path("one"), {"dawn=clear", "charge=0.5 %", "charge=40 %"}));
  REQUIRE(alone.rows.size() > 8);
  CHECK(alone.count(Fate::back) > 0);
  CHECK(alone.count(Fate::trap) > 0);
  CHECK(alone.count(Fate::back) + alone.count(Fate::trap) + alone.count(Fate::undecided) +
            alone.count(Fate::not_completed) ==
        alone.rows.size());
  const std::size_t dropped = std::accumulate(alone.dropped.begin(), alone.dropped.end(), std::size_t{0},
                                              [](std::size_t sum, const DroppedStates& d) { return sum + d.count; });
  CHECK(dropped + alone.rows.size() == alone.combinations);
  CHECK(alone.combinations == 1 * 2 * 3 * 3 * 2 * 2 * 3 * 3);
  for (std::size_t i = 1; i < alone.dropped.size(); ++i) CHECK(alone.dropped[i - 1].count >= alone.dropped[i].count);
  std::set<DeadState> states;
  for (const ReviveRow& row : alone.rows) CHECK(states.insert(row.state).second);
}

TEST_CASE("revive: what is supposed narrows the grid, and changes no verdict of what is left") {
  const test::Scratch scratch;
  const Scenario scenario = read_scenario(lamp);
  const ReviveResult wide = revive(scenario, into(scratch.path("wide"), {"charge=40 %"}));
  const ReviveResult narrow = revive(scenario, into(scratch.path("narrow"), {"charge=40 %", "dawn=overcast"}));
  REQUIRE(narrow.dawns.size() == 1);
  CHECK(narrow.dawns[0].name == "overcast");
  std::size_t i = 0;
  for (const ReviveRow& row : wide.rows) {
    if (wide.dimensions[0].values[row.state[0]] != "overcast") continue;
    REQUIRE(i < narrow.rows.size());
    CHECK(std::equal(row.state.begin() + 1, row.state.end(), narrow.rows[i].state.begin() + 1));
    CHECK(row.result.fate == narrow.rows[i].result.fate);
    CHECK(row.result.wakes == narrow.rows[i].result.wakes);
    CHECK(row.result.text == narrow.rows[i].result.text);
    ++i;
  }
  CHECK(i == narrow.rows.size());
}

TEST_CASE("revive: without a date it is the dullest day of the span, without days the scenario's sunny days") {
  const test::Scratch scratch;
  const Scenario scenario = read_scenario(lamp);
  ReviveOptions options = into(scratch.path("out"), {"dawn=clear", "charge=40 %", "guard discharge=closed"});
  options.date.reset();
  options.days.reset();
  std::size_t told = 0;
  double share = 0;
  options.watch = [&](const ReviveProgress& p) {
    ++told;
    CHECK(p.share >= share);
    CHECK(p.share <= 1);
    share = p.share;
  };
  const ReviveResult result = revive(scenario, options);
  CHECK_FALSE(result.date_given);
  CHECK(iso(result.date) == iso(dullest_day(weather_of(scenario, std::nullopt))));
  CHECK(result.days == scenario.sunny_days);
  CHECK(told > 0);
}

TEST_CASE("revive: bad input and an interruption before anything is known leave nothing behind") {
  const test::Scratch scratch;
  const Scenario scenario = read_scenario(lamp);
  CHECK(fault(scenario, into(scratch.path("out"), {"guard=open"})).find("have no 'guard'") != std::string::npos);
  CHECK(fault(read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/mechanisms/charger-deadlock.yaml"),
              into(scratch.path("out"), {}))
            .find("completes a wake") != std::string::npos);
  ReviveOptions night = into(scratch.path("out"), {});
  night.date = CivilDate{2024, 12, 21};
  CHECK(fault(read_scenario(lamp, {{"site.latitude", "75 deg"}}), night)
            .find("the sun stays down all day at this site\n  try: --date 2025-0") != std::string::npos);
  ReviveOptions interrupted = into(scratch.path("out"), {"dawn=clear"});
  interrupted.watch = [](const ReviveProgress& p) {
    if (p.states > 0 && p.done == 0) throw Stopped{SIGTERM};
  };
  std::string kept = "not told";
  try {
    revive(scenario, interrupted);
  } catch (const Stopped& stopped) {
    kept = stopped.kept;
  }
  CHECK(kept.empty());
  CHECK_FALSE(fs::exists(scratch.path("out")));
  CHECK(fs::is_empty(scratch.path("")));
  CHECK(test::children_of(::getpid()).empty());
}
