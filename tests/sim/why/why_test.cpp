#include "sim/why/why.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/input_error.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/why/knobs.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

const std::vector<Override> two_days{{"cell.charge", "15 %"}, {"span", "{from: 2024-10-02, to: 2024-10-03}"}};

const std::string outcomes = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/";
const std::string pairs = std::string(OVERWINTER_SOURCE) + "/scenarios/mechanisms/";

/// A scenario as the command line has it.
struct Given {
  std::string file;
  std::vector<Override> overrides = {};
  std::vector<std::string> faults = {};

  test::Replayed with(const std::vector<Override>& more) const {
    Scenario scenario = read_scenario(file, merged(overrides, more));
    add_faults(scenario, faults);
    return test::Replayed(std::move(scenario));
  }
  std::size_t brownouts_with(const std::vector<Override>& more) const {
    const test::Replayed run = with(more);
    return simulate(run.scenario, run.weather, run.diagram, {}, {}).service->brownouts.size();
  }
};

/// Tells the first brown-out, which a span without a later sunny day ends, and runs every change that is proposed.
nlohmann::ordered_json checked(const Given& given) {
  const test::Replayed run = given.with({});
  WhyOptions options;
  options.jobs = 2;
  options.brownout = 1;
  const auto result = why(run.scenario, run.weather, options);
  const auto told = result.at("brownouts").at(0);
  CHECK(told.at("number") == 1);
  CHECK(told.at("until_span_ends") == true);
  CHECK(!told.at("story").at("links").empty());
  double before = 0;
  bool choices = false;
  std::size_t who = 0;
  for (const auto& c : told.at("changes")) {
    CAPTURE(c.dump());
    while (name_of(remedies().at(who)) != c.at("remedy")) {
      ++who;
      before = 0;
      choices = false;
    }
    CHECK(c.at("breaks").empty());
    std::vector<Override> set;
    for (const auto& s : c.at("set")) set.push_back(parse_override(s.get<std::string>()));
    CHECK(given.brownouts_with(set) == 0);
    CHECK(c.at("brownouts_in_span") == 0);
    if (c.at("kind") == "choice") {
      choices = true;
      CHECK(c.at("relative").is_null());
      CHECK(c.at("short_of").is_null());
      CHECK(set.at(0).value == c.at("to"));
      CHECK(c.at("from") != c.at("to"));
      continue;
    }
    CHECK_FALSE(choices);  // they stand last of who can make them
    const double tolerance = knob_kind(c.at("kind")).tolerance;
    CHECK(std::abs(c.at("relative").get<double>()) > 0.99 * tolerance);
    CHECK(c.at("short_of").is_null() == c.at("within_tolerance").get<bool>());
    const double relative = c.at("relative").get<double>();
    CHECK(std::abs(relative) >= before);
    before = std::abs(relative);
    CHECK(c.at("to").get<double>() / c.at("from").get<double>() - 1 == doctest::Approx(relative));
    if (set.size() > 1 || c.at("short_of").is_null() || c.at("kind") == "panel") continue;  // panels are told in watts
    set[0].value = std::to_string(c.at("short_of").get<double>()) + " " + c.at("unit").get<std::string>();
    CHECK(given.brownouts_with(set) >= 1);
  }
  return told;
}

bool has(const nlohmann::ordered_json& told, const char* list, const std::string& name) {
  const auto& all = told.at(list);
  return std::any_of(all.begin(), all.end(), [&](const auto& c) { return c.at("name") == name; });
}

}  // namespace

TEST_CASE("every change that is proposed removes the brown-out of a run of its own, 95 % of it does not") {
  const auto told = checked({outcomes + "needs-human.yaml", two_days});
  CHECK(told.at("cause") == "guard: over-discharge trip");
  CHECK(told.at("cause_id") == "protector-trip");
  CHECK(told.at("changes").size() >= 3);
  CHECK(has(told, "changes", "lamp.current"));
  CHECK(has(told, "changes", "cell.capacity"));
  CHECK(has(told, "no_help", "guard.resistance"));
}

TEST_CASE("what is proposed against mechanisms of a moment holds too") {
  const auto collapse = checked({pairs + "constant-power-collapse.yaml"});
  CHECK(has(collapse, "changes", "lead.resistance"));
  CHECK(has(collapse, "no_help", "logger.clears_flag"));
  const auto trip = checked({pairs + "protector-trip.yaml"});
  CHECK(has(trip, "changes", "guard.overdischarge_voltage"));
  const auto inrush = checked({pairs + "inrush.yaml"});
  CHECK(has(inrush, "changes", "store.capacitance"));
  const auto hung = checked({pairs + "pass-through.yaml"});
  CHECK_FALSE(hung.at("changes").empty());
}

TEST_CASE("a flag that is never cleared is cured by clearing it") {
  const auto told = checked({pairs + "flag-not-cleared.yaml"});
  CHECK(told.at("cause_id") == "flag-not-cleared");
  CHECK(has(told, "changes", "logger.clears_flag"));
  CHECK(has(told, "no_help", "cell.capacity"));
  for (const auto& c : told.at("changes")) {
    if (c.at("name") != "logger.clears_flag") continue;
    CHECK(c.at("remedy") == "firmware");
    CHECK(c.at("from") == "false");
    CHECK(c.at("to") == "true");
  }
}

TEST_CASE("changes are tried under the faults that were given") {
  // Without its fault this cell bears the day, and anything would pass for a cure.
  const Given aged{pairs + "constant-power-collapse-not.yaml", {}, {"cell aged by 10 % times 6 at 2025-01-10 00:00"}};
  CHECK(Given{aged.file}.brownouts_with({}) == 0);
  const auto told = checked(aged);
  CHECK(told.at("cause_id") == "constant-power-collapse");
  CHECK(has(told, "no_help", "logger.clears_flag"));
  CHECK(has(told, "changes", "radio.power"));
}

TEST_CASE("sleeping until the span's end is no cure") {
  const auto told = checked({pairs + "protector-trip-not.yaml", {}, {"switch stuck-off at 2025-01-10 01:00"}});
  CHECK(told.at("cause_id") == "fault");
  CHECK(told.at("changes").empty());
  CHECK(has(told, "no_help", "policy.every"));
}

TEST_CASE("what can be built comes first, then firmware, then another datasheet; no detector is switched off") {
  // Told before: a threshold 12 % lower as the smallest change, and the detector off as a choice.
  const auto told = checked({pairs + "reset-loop.yaml"});
  const auto& changes = told.at("changes");
  REQUIRE(changes.size() >= 3);
  CHECK(changes.front().at("name") == "lead.resistance");
  CHECK(changes.front().at("remedy") == "built");
  CHECK(changes.at(1).at("remedy") == "firmware");
  CHECK(changes.back().at("name") == "logger.brownout_threshold");
  CHECK(changes.back().at("remedy") == "datasheet");
  for (const char* list : {"changes", "no_cure", "no_help"}) CHECK_FALSE(has(told, list, "logger.brownout_detector"));
}

TEST_CASE("a threshold that would be lower by less than such parts differ is no cure") {
  const Given near{pairs + "protector-trip.yaml", {{"guard.overdischarge_voltage", "2.70 V"}}};
  CHECK(near.brownouts_with({{"guard.overdischarge_voltage", "2.684 V"}}) == 0);  // 0.6 %, 16 mV
  const auto told = checked(near);
  CHECK_FALSE(has(told, "changes", "guard.overdischarge_voltage"));
  REQUIRE(has(told, "no_cure", "guard.overdischarge_voltage"));
  for (const auto& c : told.at("no_cure")) {
    if (c.at("name") != "guard.overdischarge_voltage") continue;
    CHECK(c.at("within_tolerance") == true);
    CHECK(c.at("to").get<double>() == doctest::Approx(2.70 * 0.98).epsilon(1e-3));
    CHECK(c.at("breaks").empty());
  }
  CHECK(has(told, "changes", "radio.power"));
}

TEST_CASE("a change that fails what was held is no cure, and says what it fails") {
  // Dead, the cell keeps its charge; alive, it comes below what is required.
  const Given given{pairs + "protector-trip.yaml"};
  const test::Replayed dead = given.with({}), alive = given.with({{"guard.overdischarge_voltage", "2.6 V"}});
  const auto lowest = [](const test::Replayed& run) {
    return simulate(run.scenario, run.weather, run.diagram, {}, {}).summary.at("cell").at("soc_min").get<double>();
  };
  const double kept = lowest(dead), used = lowest(alive);
  REQUIRE(used < kept);
  const std::string between = std::to_string(50 * (kept + used)) + " %";
  const auto told = checked({given.file, {{"require", "{lowest_charge: {at_least: " + between + "}}"}}});
  REQUIRE(has(told, "no_cure", "guard.overdischarge_voltage"));
  CHECK_FALSE(has(told, "changes", "guard.overdischarge_voltage"));
  for (const auto& c : told.at("no_cure")) {
    if (c.at("name") != "guard.overdischarge_voltage") continue;
    REQUIRE(c.at("breaks").size() == 1);
    CHECK(c.at("breaks").at(0).get<std::string>().find("lowest charge ") == 0);
    CHECK(c.at("breaks").at(0).get<std::string>().find(", at least ") != std::string::npos);
  }
}

TEST_CASE("with a margin each change is replayed larger by it") {
  const Given given{pairs + "constant-power-collapse.yaml"};
  const test::Replayed run = given.with({});
  WhyOptions options;
  options.jobs = 2;
  options.margin = 0.2;
  const auto result = why(run.scenario, run.weather, options);
  CHECK(result.at("margin") == 0.2);
  std::size_t numbers = 0;
  for (const auto& c : result.at("brownouts").at(0).at("changes")) {
    CAPTURE(c.dump());
    if (c.at("kind") == "choice") {
      CHECK_FALSE(c.contains("with_margin"));
      continue;
    }
    ++numbers;
    const auto& with = c.at("with_margin");
    CHECK(with.at("relative").get<double>() == doctest::Approx(1.2 * c.at("relative").get<double>()).epsilon(1e-3));
    std::vector<Override> set;
    for (const auto& s : with.at("set")) set.push_back(parse_override(s.get<std::string>()));
    CHECK((given.brownouts_with(set) == 0) == with.at("avoids").get<bool>());
    CHECK(with.at("brownouts_in_span") == 0);
    CHECK(with.at("breaks").empty());
  }
  CHECK(numbers >= 2);
}

TEST_CASE("a change with a margin is rounded away from the present value, to steps where there are some") {
  Knob wire{"resistance", "lead.resistance", "ohm", 1.9, 0.019, 0, {}, {}};
  CHECK(with_margin(wire, 1.29, 0.2) == doctest::Approx(1.168));
  Knob every{"policy", "policy.every", "min", 120, 1290, 10, {}, {}};
  CHECK(with_margin(every, 150, 0.2) == 160);
  CHECK(with_margin(every, 150, 1.0 / 3) == 160);
}

TEST_CASE("the first brown-out of each cause id is told, and of each event behind one") {
  const test::Replayed run = Given{outcomes + "failed-starts.yaml"}.with({});
  const RunResult whole = simulate(run.scenario, run.weather, run.diagram, {}, {});
  std::set<std::string> causes, ids, told_causes, told_ids;
  for (const BrownOut& b : whole.service->brownouts) {
    causes.insert(b.cause());
    ids.insert(b.cause_id);
  }
  const auto result = why(run.scenario, run.weather, {});
  for (const auto& b : result.at("brownouts")) {
    const bool new_cause = told_causes.insert(b.at("cause")).second, new_id = told_ids.insert(b.at("cause_id")).second;
    CHECK((new_cause || new_id));
  }
  CHECK(told_causes == causes);
  CHECK(told_ids == ids);
}

TEST_CASE("the result does not depend on the number of workers") {
  const test::Replayed run(pairs + "protector-trip.yaml");
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
  const test::Replayed run(read_scenario(outcomes + "undecided.yaml",
                                         {{"cell.charge", "90 %"}, {"span", "{from: 2024-12-18, to: 2024-12-18}"}}));
  WhyOptions options;
  const auto none = why(run.scenario, run.weather, options);
  CHECK(none.at("count") == 0);
  CHECK(none.at("brownouts").empty());
  CHECK(none.at("engine").at("replays") == 1);
  options.brownout = 1;
  CHECK_THROWS_AS(why(run.scenario, run.weather, options), InputError);
}
