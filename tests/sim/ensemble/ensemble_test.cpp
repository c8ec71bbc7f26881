#include "sim/ensemble/ensemble.hpp"

#include <doctest/doctest.h>
#include <signal.h>

#include <filesystem>

#include "sim/input_error.hpp"
#include "sim/replay/replay.hpp"
#include "tests/support/processes.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

/// A day of a cell of 1 Ah and a load, under synthetic weather.
Scenario day_of(const test::Scratch& scratch) {
  std::string text = test::cell_and("{model: load, kind: current, current: 1 mA}", "3.5 3.5", "100");
  text.replace(text.find("{file: still.epw}"), 17,
               "{synthetic: " OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml}");
  return read_scenario(scratch.write("day.yaml", text));
}

EnsembleOptions into(const std::string& folder, std::size_t jobs) {
  EnsembleOptions options;
  options.out = folder;
  options.jobs = jobs;
  return options;
}

std::vector<int> first(int count) {
  std::vector<int> all;
  for (int i = 1; i <= count; ++i) all.push_back(i);
  return all;
}

/// Everything a folder holds but what tells of the clock on the wall and of the workers.
std::string comparable(const test::Scratch& scratch, const std::string& folder) {
  auto json = nlohmann::ordered_json::parse(scratch.read(folder + "/ensemble.json"));
  json.erase("engine");
  std::string all = json.dump() + scratch.read(folder + "/members.csv");
  for (const auto& m : json.at("members"))
    all += scratch.read(folder + "/members/" + m.at("name").get<std::string>() + ".json");
  return all;
}

}  // namespace

TEST_CASE("an ensemble is the same whatever the number of workers and however often they are replaced") {
  const test::Scratch scratch;
  const Scenario scenario = day_of(scratch);
  const std::vector<Member> members = members_of(scenario, {{}, first(4), {2009, 2011}});
  for (const std::size_t jobs : {1u, 3u, 20u})
    run_ensemble(scenario, members, into(scratch.path(std::to_string(jobs)), jobs));
  EnsembleOptions short_lived = into(scratch.path("replaced"), 2);
  short_lived.years_per_worker = 0;
  run_ensemble(scenario, members, short_lived);
  const std::string one = comparable(scratch, "1");
  CHECK(one.size() > 8 * 1000);
  for (const char* other : {"3", "20", "replaced"}) CHECK(comparable(scratch, other) == one);
  CHECK(test::children_of(::getpid()).empty());
}

TEST_CASE("a member's summary is that of a run of it alone") {
  const test::Scratch scratch;
  const Scenario scenario = day_of(scratch);
  run_ensemble(scenario, members_of(scenario, {{}, first(2), {2009, 2011}}), into(scratch.path("all"), 1));
  ReplayOptions alone;
  alone.out = scratch.path("alone");
  alone.seed = 2;
  alone.year = 2011;
  auto summary = replay(scenario, alone).summary;
  summary.at("engine").erase("wall_s");
  CHECK(scratch.read("all/members/seed-2-2011.json") == summary.dump(2) + "\n");
  CHECK(summary.at("span").at("from") == "2011-03-01");
  CHECK(summary.at("weather").at("seed") == 2);
}

TEST_CASE("a member that cannot be completed is told with its reason, the others are written") {
  const test::Scratch scratch;
  const Scenario scenario = day_of(scratch);
  EnsembleOptions options = into(scratch.path("all"), 2);
  options.progress = [](Tick reached, double) {
    if (reached > days_since_epoch({2011, 1, 1}) * ticks_per_day) throw SimulationError("2011: no operating point");
  };
  const EnsembleResult r = run_ensemble(scenario, members_of(scenario, {{}, {}, {2009, 2010, 2011}}), options);
  CHECK_FALSE(r.complete);
  REQUIRE(r.members.size() == 3);
  CHECK(r.members[1].complete());
  CHECK(r.members[2].error == "2011: no operating point");
  CHECK(r.ensemble.at("counts").at("not_completed") == 1);
  CHECK(fs::exists(scratch.path("all/members/2010.json")));
  CHECK_FALSE(fs::exists(scratch.path("all/members/2011.json")));
}

TEST_CASE("faults of all weather files are told at once, and nothing is written") {
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  scratch.write("broken.epw", "LOCATION\n");
  const Scenario scenario = day_of(scratch);
  const std::vector<Member> members = members_of(
      scenario, {{scratch.path("absent.epw"), scratch.path("still.epw"), scratch.path("broken.epw")}, {}, {}});
  std::string told;
  try {
    run_ensemble(scenario, members, into(scratch.path("all"), 2));
  } catch (const InputError& e) {
    told = e.what();
  }
  CHECK(told.find("absent.epw: the weather file does not exist") != std::string::npos);
  CHECK(told.find("broken.epw:1") != std::string::npos);
  CHECK(told.find("still.epw") == std::string::npos);
  CHECK_FALSE(fs::exists(scratch.path("all")));
}

TEST_CASE("whoever watches is told of every member, and what it throws ends it with what is known kept and marked") {
  const test::Scratch scratch;
  const Scenario scenario = day_of(scratch);
  const std::vector<Member> members = members_of(scenario, {{}, first(5), {}});
  EnsembleOptions options = into(scratch.path("all"), 1);
  std::size_t most = 0;
  options.watch = [&](const EnsembleProgress& p) {
    CHECK(p.members == 5);
    CHECK(p.done >= most);
    CHECK(p.worst.empty() == (p.done == 0));
    most = p.done;
  };
  run_ensemble(scenario, members, options);
  CHECK(most >= 3);
  options.out = scratch.path("stopped");
  options.watch = [&](const EnsembleProgress& p) {
    if (p.done > 1) throw Stopped{SIGTERM};
  };
  std::string kept;
  try {
    run_ensemble(scenario, members, options);
  } catch (const Stopped& stopped) {
    kept = stopped.kept;
  }
  CHECK(kept == scratch.path("stopped-partial"));
  const auto partial = nlohmann::ordered_json::parse(scratch.read("stopped-partial/ensemble.json"));
  CHECK(partial.at("cut_short").at("signal") == SIGTERM);
  std::size_t not_finished = 0;
  for (const auto& m : partial.at("members")) {
    const bool known = fs::exists(kept + "/members/" + m.at("name").get<std::string>() + ".json");
    CHECK(m.at("completed") == known);
    not_finished += m.contains("error") && m.at("error") == "not finished";
  }
  CHECK(not_finished > 0);
  CHECK(partial.at("counts").at("not_completed") == not_finished);
  CHECK(std::distance(fs::directory_iterator(scratch.path("")), {}) == 3);  // and the scenario and the first result
}

#ifndef __SANITIZE_ADDRESS__  // which keeps what was freed
TEST_CASE("a worker does not grow with the members it has carried") {
  // Its own memory after 20 members and after 300, as it says itself in a file: the last word stays.
  const test::Scratch scratch;
  const Scenario scenario = day_of(scratch);
  EnsembleOptions options = into(scratch.path("all"), 1);
  std::size_t begun = 0, early = 0;
  options.progress = [&](Tick, double share) {
    if (share > 0) return;
    ++begun;
    if (begun == 20) early = test::own_memory();
    if (begun == 300) scratch.write("memory", std::to_string(early) + " " + std::to_string(test::own_memory()));
  };
  run_ensemble(scenario, members_of(scenario, {{}, first(300), {}}), options);
  std::istringstream memory(scratch.read("memory"));
  double after_20 = 0, after_300 = 0;
  memory >> after_20 >> after_300;
  CAPTURE(after_20);
  CAPTURE(after_300);
  REQUIRE(after_20 > 0);
  CHECK(after_300 < after_20 + 1e6);  // 280 members: a leak of 4 kB each would show
}
#endif
