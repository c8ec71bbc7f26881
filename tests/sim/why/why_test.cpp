#include "sim/why/why.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "sim/input_error.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

const std::string logger = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/undecided.yaml";
const std::vector<Override> two_days{{"cell.charge", "7 %"}, {"span", "{from: 2024-12-18, to: 2024-12-19}"}};

std::size_t brownouts_with(std::vector<Override> overrides) {
  overrides.insert(overrides.begin(), two_days.begin(), two_days.end());
  const test::Replayed run(read_scenario(logger, overrides));
  return simulate(run.scenario, run.weather, run.diagram, {}, {}).service->brownouts.size();
}

}  // namespace

TEST_CASE("every change that is proposed removes the brown-out of a run of its own, 95 % of it does not") {
  const test::Replayed run(read_scenario(logger, two_days));
  WhyOptions options;
  options.jobs = 2;
  const auto result = why(run.scenario, run.weather, options);
  REQUIRE(result.at("count").get<int>() >= 1);
  const auto& told = result.at("brownouts").at(0);
  CHECK(told.at("number") == 1);
  CHECK(told.at("cause") == "guard: over-discharge trip");
  CHECK(!told.at("story").at("links").empty());

  const auto& changes = told.at("changes");
  REQUIRE(changes.size() >= 3);
  double before = 0;
  for (const auto& c : changes) {
    CAPTURE(c.dump());
    CHECK(std::abs(c.at("relative").get<double>()) >= before);
    before = std::abs(c.at("relative").get<double>());
    CHECK(c.at("to").get<double>() / c.at("from").get<double>() - 1 == doctest::Approx(c.at("relative").get<double>()));
    std::vector<Override> set;
    for (const auto& s : c.at("set")) set.push_back(parse_override(s.get<std::string>()));
    CHECK(brownouts_with(set) == 0);
    CHECK(c.at("brownouts_in_span") == 0);
    if (set.size() > 1 || c.at("short_of").is_null()) continue;
    const std::string unit = c.at("unit").get<std::string>();
    set[0].value = std::to_string(c.at("short_of").get<double>()) + " " + unit;
    if (c.at("kind") == "panel") continue;  // told in watts
    CHECK(brownouts_with(set) >= 1);
  }
  const auto has = [&](const char* list, const std::string& name) {
    const auto& all = told.at(list);
    return std::any_of(all.begin(), all.end(), [&](const auto& c) { return c.at("name") == name; });
  };
  CHECK(has("changes", "radio.power"));
  CHECK(has("changes", "cell.capacity"));
  CHECK(has("no_help", "probe.current"));
}

TEST_CASE("the result does not depend on the number of workers") {
  const test::Replayed run(read_scenario(logger, two_days));
  WhyOptions options;
  auto alone = why(run.scenario, run.weather, options);
  options.jobs = 3;
  auto three = why(run.scenario, run.weather, options);
  CHECK(alone.at("engine").at("replays") == three.at("engine").at("replays"));
  alone.erase("engine");
  three.erase("engine");
  CHECK(alone.dump() == three.dump());
}

TEST_CASE("which brown-outs are told") {
  const test::Replayed run(
      read_scenario(logger, {{"cell.charge", "90 %"}, {"span", "{from: 2024-12-18, to: 2024-12-18}"}}));
  WhyOptions options;
  const auto none = why(run.scenario, run.weather, options);
  CHECK(none.at("count") == 0);
  CHECK(none.at("brownouts").empty());
  CHECK(none.at("engine").at("replays") == 1);
  options.brownout = 1;
  CHECK_THROWS_AS(why(run.scenario, run.weather, options), InputError);
}
