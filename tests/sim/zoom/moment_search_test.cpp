#include "sim/zoom/moment_search.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <sstream>

#include "sim/input_error.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

const std::string scenario = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/failed-starts.yaml";

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream in(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

std::string fault(const test::Replayed& run, NumberedEvent wanted) {
  try {
    find_moment(run.scenario, run.weather, run.diagram, {}, wanted);
  } catch (const InputError& e) {
    return std::string("\n") + e.what() + "\n";
  }
  return "found";
}

}  // namespace

TEST_CASE("search: a number is that row of the run's events.csv, and B1 the first cause of the first brown-out") {
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  const Scenario written = read_scenario(scenario);
  const auto summary = replay(written, options).summary;
  const std::vector<std::string> rows = lines_of(scratch.read("run/events.csv"));
  const test::Replayed run(written);
  REQUIRE(rows.size() > 40);
  for (const int number : {1, 2, 7, 40}) {
    const FoundMoment found = find_moment(run.scenario, run.weather, run.diagram, {}, {false, number});
    CAPTURE(rows[static_cast<std::size_t>(number)]);
    CHECK(rows[static_cast<std::size_t>(number)].rfind(iso_time(found.time, 9), 0) == 0);
    CHECK(found.occasion.rfind("event " + std::to_string(number) + ": ", 0) == 0);
  }
  const auto& first = summary.at("brownouts").at("events").at(0);
  const FoundMoment found = find_moment(run.scenario, run.weather, run.diagram, {}, {true, 1});
  CHECK(iso_time(found.time, 9) == first.at("chain").at(0).at("time").get<std::string>());
  CHECK(found.occasion.rfind("brown-out B1 (" + first.at("time").get<std::string>() + "): ", 0) == 0);
  REQUIRE_FALSE(found.asked_for.empty());
  CHECK(found.asked_for.front().first == first.at("chain").at(0).at("part").get<std::string>());
  CHECK(fault(run, {true, 99}).find("the run has") != std::string::npos);
}

TEST_CASE("search: a run that has not so many") {
  const test::Replayed run("scenarios/outcomes/survives.yaml", {2025, 3, 1}, {2025, 3, 2});
  CHECK(fault(run, {true, 1}) == "\n--event 'B1': the run has no brown-out\n  try: --at TIME\n");
  CHECK(fault(run, {false, 100'000}).find("--event '100000': the run has ") != std::string::npos);
  CHECK(fault(run, {false, 100'000}).find(" only\n  try: --event 1 to --event ") != std::string::npos);
}
