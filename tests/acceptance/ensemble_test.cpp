// Ensembles as a person runs them, and as the world ends them.
#include <doctest/doctest.h>
#include <signal.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tests/support/program.hpp"
#include "tests/support/running_program.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

namespace {

/// The shipped snow stake over some days of March 2025.
std::string stake(const test::Scratch& scratch, const std::string& days) {
  const std::string scenarios = OVERWINTER_SOURCE "/scenarios/";
  std::ifstream file(scenarios + "snow-stake.yaml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  for (const auto& [from, to] : {std::pair<std::string, std::string>{"from: 2025-03-01, to: 2025-03-31", days},
                                 {"synthetic: ", "synthetic: " + scenarios}}) {
    REQUIRE(text.find(from) != std::string::npos);
    text.replace(text.find(from), from.size(), to);
  }
  return scratch.write("stake.yaml", text);
}

bool unfinished(const test::Scratch& scratch) {
  return std::any_of(fs::directory_iterator(scratch.path("")), fs::directory_iterator(), [](const auto& entry) {
    return entry.path().filename().string().find(".unfinished-") != std::string::npos;
  });
}

/// Members that take seconds each.
std::vector<std::string> slow(const test::Scratch& scratch, const std::string& jobs) {
  return {"run",     stake(scratch, "from: 2020-03-01, to: 2024-03-31"),
          "--seeds", "1..4",
          "--out",   scratch.path("all"),
          "--jobs",  jobs};
}

std::string comparable(const test::Scratch& scratch, const std::string& folder) {
  Json json = Json::parse(scratch.read(folder + "/ensemble.json"));
  json.erase("engine");
  std::string all = json.dump() + scratch.read(folder + "/members.csv");
  for (const Json& m : json.at("members"))
    all += scratch.read(folder + "/members/" + m.at("name").get<std::string>() + ".json");
  return all;
}

}  // namespace

TEST_CASE("ensemble: the same bytes with one, two and three workers, and of each member alone") {
  const test::Scratch scratch;
  const std::string run = "run " + stake(scratch, "from: 2025-03-01, to: 2025-03-03") + " --seeds 1..5";
  std::string first;
  for (const std::string jobs : {"1", "2", "3"}) {
    const test::Said said =
        test::overwinter_says(run + " --jobs " + jobs + " --out " + scratch.path("all-" + jobs), scratch);
    CHECK(said.code == 1);  // a worst week is required, and three days have none
    CHECK(said.err.empty());
    CHECK(said.says("0 of 5 members held every requirement; 5 undecided"));
    if (first.empty()) first = comparable(scratch, "all-1");
    CHECK(comparable(scratch, "all-" + jobs) == first);
  }
  const test::Said told = test::overwinter_says(run + " --jobs 2 --json --out " + scratch.path("all-2"), scratch);
  CHECK(told.out == scratch.read("all-2/ensemble.json"));

  // The command that the terminal names, read by a shell.
  const test::Said said = test::overwinter_says(run + " --out " + scratch.path("all"), scratch);
  const std::string mark = "Alone    overwinter ";
  const std::size_t at = said.out.find(mark) + mark.size();
  REQUIRE(at > mark.size());
  const std::string alone = said.out.substr(at, said.out.find('\n', at) - at);
  const std::string name = alone.substr(alone.rfind("seed-"));
  CHECK(test::overwinter_says(alone, scratch).code == 1);
  Json summary = Json::parse(scratch.read("all-" + name + "/summary.json"));
  summary.at("engine").erase("wall_s");
  CHECK(scratch.read("all/members/" + name + ".json") == summary.dump(2) + "\n");
  CHECK(fs::exists(scratch.path("all-" + name + "/report.html")));
}

TEST_CASE("ensemble: every member holds, or one does not") {
  const test::Scratch scratch;
  const std::string drain = "{model: load, kind: current, current: 10 mA}";
  std::string text = test::cell_and(drain, "3.5 3.5", "100") + "require: {lowest_charge: {at_least: 40 %}}\n";
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  scratch.write_weather("bright.epw", [](int) { return 100.0; });
  const std::string run = "run " + scratch.write("drain.yaml", text) + " --out " + scratch.path("all") + " --weather " +
                          scratch.path("still.epw") + " " + scratch.path("bright.epw");
  const test::Said held = test::overwinter_says(run, scratch);
  CHECK(held.code == 0);
  CHECK(held.says("Verdict  2 of 2 members held every requirement\n"));
  text.replace(text.find("40 %}"), 5, "60 %}");
  scratch.write("drain.yaml", text);
  const test::Said failed = test::overwinter_says(run, scratch);
  CHECK(failed.code == 1);
  CHECK(failed.says("Verdict  0 of 2 members held every requirement; 2 failed\n         failed: lowest charge 2\n"));
}

TEST_CASE("ensemble: a bad file among many ends it with nothing written") {
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  scratch.write("broken.epw", "LOCATION\n");
  const std::string file =
      scratch.write("drain.yaml", test::cell_and("{model: load, kind: current, current: 1 mA}", "3.5 3.5", "100"));
  const test::Said said = test::overwinter_says("run " + file + " --out " + scratch.path("all") + " --weather " +
                                                    scratch.path("still.epw") + " " + scratch.path("broken.epw"),
                                                scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK(said.err.find("broken.epw:1") != std::string::npos);
  CHECK(said.err.find("try: ") != std::string::npos);
  CHECK_FALSE(fs::exists(scratch.path("all")));
  CHECK_FALSE(unfinished(scratch));
}

TEST_CASE("ensemble: a worker that is killed is replaced, and its member is as if nothing had been") {
  const test::Scratch scratch;
  const std::string file = stake(scratch, "from: 2025-03-01, to: 2025-03-31");
  const std::vector<std::string> run = {"run", file, "--seeds", "1,2,4", "--jobs", "1", "--out"};
  std::vector<std::string> disturbed = run, quiet = run;
  disturbed.push_back(scratch.path("disturbed"));
  quiet.push_back(scratch.path("quiet"));
  test::RunningProgram program(scratch, disturbed);
  const pid_t worker = program.workers(1).front();
  ::kill(worker, SIGKILL);
  program.workers(1, worker);
  const test::Ended ended = program.wait();
  REQUIRE(WIFEXITED(ended.status));
  CHECK(ended.err.empty());
  CHECK(program.all_gone());
  test::RunningProgram other(scratch, quiet);
  CHECK(other.wait().status == ended.status);
  CHECK(comparable(scratch, "disturbed") == comparable(scratch, "quiet"));
}

TEST_CASE("ensemble: a member over which two workers die ends it, by name, with nothing written") {
  const test::Scratch scratch;
  test::RunningProgram program(scratch, slow(scratch, "1"));
  const pid_t worker = program.workers(1).front();
  ::kill(worker, SIGKILL);
  ::kill(program.workers(1, worker).front(), SIGKILL);
  const test::Ended ended = program.wait();
  REQUIRE(WIFEXITED(ended.status));
  CHECK(WEXITSTATUS(ended.status) == 3);
  CHECK(ended.err ==
        "overwinter: the simulation could not be completed: member seed-1: two workers in a row ended by signal 9; "
        "nothing was written\n");
  CHECK(program.all_gone());
  CHECK_FALSE(fs::exists(scratch.path("all")));
  CHECK_FALSE(unfinished(scratch));
}

TEST_CASE("ensemble: told to stop, alone or with its workers, it leaves neither files nor processes") {
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    for (const bool group : {false, true}) {
      const test::Scratch scratch;
      test::RunningProgram program(scratch, slow(scratch, "2"));
      program.workers(2);
      REQUIRE(unfinished(scratch));
      ::kill(group ? -program.id() : program.id(), signal);
      const test::Ended ended = program.wait();
      REQUIRE(WIFSIGNALED(ended.status));
      CHECK(WTERMSIG(ended.status) == signal);
      CHECK(ended.err == "overwinter: interrupted, nothing was written\n");
      CHECK(program.all_gone());
      CHECK_FALSE(fs::exists(scratch.path("all")));
      CHECK_FALSE(unfinished(scratch));
    }
  }
}

TEST_CASE("ensemble: its workers do not outlive a parent that is killed") {
  const test::Scratch scratch;
  test::RunningProgram program(scratch, slow(scratch, "2"));
  program.workers(2);
  ::kill(program.id(), SIGKILL);
  program.wait();
  CHECK(program.all_gone());
  CHECK_FALSE(fs::exists(scratch.path("all")));
}
