#include "sim/revive/revive_tables.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "sim/replay/replay.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

const std::string lamp = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/needs-human.yaml";

std::vector<std::string> keys(const Json& j) {
  std::vector<std::string> all;
  for (const auto& [key, value] : j.items()) all.push_back(key);
  return all;
}

/// Two charges under two skies.
struct Table {
  test::Scratch scratch;
  Scenario scenario = read_scenario(lamp);
  Weather weather = weather_of(scenario, std::nullopt);
  ReviveResult result;

  Table() {
    ReviveOptions options;
    options.out = scratch.path("out");
    options.jobs = 2;
    options.date = CivilDate{2024, 10, 3};
    options.days = 1;
    options.suppose = {"dawn=clear", "dawn=cold", "charge=0.5 %", "charge=40 %"};
    result = revive(scenario, options);
  }
};

}  // namespace

TEST_CASE("revive tables: a trial on its way from a worker comes back as it was") {
  const TrialResult t{Fate::trap, {5, 7'000'000'000'000'000'001}, 1234.5, 0.1, 1.0 / 3, "no-alarm", "said \"so\""};
  const TrialResult back = trial_of(Json::parse(trial_json(t).dump()));
  CHECK(back.fate == t.fate);
  CHECK(back.wakes == t.wakes);
  CHECK(back.attempts == t.attempts);
  CHECK(back.energy == t.energy);
  CHECK(back.charge_at_end == t.charge_at_end);
  CHECK(back.block == t.block);
  CHECK(back.text == t.text);
}

TEST_CASE("revive tables: keys, counts, groups and rows") {
  Table table;
  ReviveResult& r = table.result;
  const Json j = revive_json(table.scenario, table.weather, r, {});
  CHECK(keys(j) == std::vector<std::string>{"format", "version", "scenario", "file", "overrides", "faults", "date",
                                            "date_given", "days", "wakes", "light", "dawns", "dimensions", "counts",
                                            "overview", "blocks", "dropped", "inputs_sha256"});
  CHECK(j.at("dawns").size() == 2);
  CHECK(j.at("counts").at("states") == r.rows.size());
  CHECK(j.at("counts").at("combinations").get<std::size_t>() ==
        j.at("counts").at("dropped").get<std::size_t>() + r.rows.size());
  CHECK(j.at("inputs_sha256").size() == table.scenario.inputs.size());

  std::size_t states = 0, back = 0;
  for (const Json& o : j.at("overview")) {
    states += o.at("states").get<std::size_t>();
    back += o.at("back").get<std::size_t>();
    CHECK(o.at("first_back_s").is_null() == (o.at("back") == 0));
  }
  CHECK(states == r.rows.size());
  CHECK(back == r.count(Fate::back));

  std::size_t traps = 0;
  for (const Json& block : j.at("blocks")) {
    CAPTURE(block.at("block").dump());
    std::size_t in_groups = 0;
    for (const Json& group : block.at("groups")) in_groups += group.at("states").get<std::size_t>();
    CHECK(block.at("states") == in_groups);
    const auto rows = std::count_if(r.rows.begin(), r.rows.end(),
                                    [&](const ReviveRow& row) { return row.result.block == block.at("block"); });
    CHECK(block.at("states") == rows);
    if (block.at("verdict") == "trap") traps += in_groups;
    for (const Json& rule : block.at("review_says")) {
      const Json& all = block.at("review_rules");
      CHECK(std::find(all.begin(), all.end(), rule) != all.end());
    }
  }
  CHECK(traps == r.count(Fate::trap));

  const Json rows = states_json(r);
  REQUIRE(rows.size() == r.rows.size());
  CHECK(keys(rows[0]) == std::vector<std::string>{"state", "verdict", "block", "text", "wakes", "first_wake_s",
                                                  "attempts", "attempts_J", "charge_at_end"});
  CHECK(rows[0].at("state").size() == r.dimensions.size());
}

TEST_CASE("revive tables: what could not be completed does not part a group") {
  Table table;
  for (ReviveRow& row : table.result.rows) {
    row.result = {};
    row.result.fate = Fate::trap;
    row.result.block = "no-alarm";
  }
  table.result.rows[1].result.fate = Fate::not_completed;
  table.result.rows[1].result.block.clear();
  const Json j = revive_json(table.scenario, table.weather, table.result, {});
  REQUIRE(j.at("blocks").size() == 1);
  REQUIRE(j.at("blocks")[0].at("groups").size() == 1);
  CHECK(j.at("blocks")[0].at("groups")[0].at("where").empty());
  CHECK(j.at("blocks")[0].at("states") == table.result.rows.size() - 1);
}

TEST_CASE("revive tables: what could not be completed is in no group, and fields of the CSV are quoted") {
  Table table;
  ReviveResult& r = table.result;
  const std::size_t traps = r.count(Fate::trap);
  const auto trap =
      std::find_if(r.rows.begin(), r.rows.end(), [](const ReviveRow& row) { return row.result.fate == Fate::trap; });
  REQUIRE(trap != r.rows.end());
  trap->result = {};
  trap->result.text = "it gave up, \"there\"";
  const Json j = revive_json(table.scenario, table.weather, r, {});
  CHECK(j.at("counts").at("not_completed") == 1);
  std::size_t grouped = 0;
  for (const Json& block : j.at("blocks")) grouped += block.at("states").get<std::size_t>();
  CHECK(grouped == traps - 1 + r.count(Fate::undecided));

  std::istringstream csv(revive_csv(r));
  std::string line;
  REQUIRE(std::getline(csv, line));
  CHECK(line ==
        "dawn,charge,charger charge,clock alarm,clock coin cell,guard discharge,logger mode,logger supply,"
        "verdict,block,wakes,first wake after [s],attempts,energy of attempts [J],charge at the end [%],text");
  std::size_t rows = 0, quoted = 0;
  while (std::getline(csv, line)) {
    CHECK(line.find(fmt::format(",{},", 100 * r.rows[rows].result.charge_at_end)) != std::string::npos);
    ++rows;
    if (line.find("not completed,,0,,0,0,0,\"it gave up, \"\"there\"\"\"") != std::string::npos) ++quoted;
  }
  CHECK(rows == r.rows.size());
  CHECK(quoted == 1);
}
