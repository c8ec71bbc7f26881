#include "sim/ensemble/ensemble_tables.hpp"

#include <doctest/doctest.h>

#include <deque>

using namespace overwinter;

namespace {

/// Twenty members, whose lowest charge is 1 % to 20 %, in mixed order; member i with charge i %.
struct Twenty {
  std::deque<Member> members;
  std::vector<MemberResult> results;
  Twenty() {
    for (int i = 0; i < 20; ++i) {
      const int rank = (i * 7) % 20 + 1;
      members.push_back({"seed-" + std::to_string(rank), {}, rank, {}});
      MemberResult r;
      r.member = &members.back();
      r.span = {{2024, 10, 15}, {2025, 3, 31}};
      r.survives = true;
      r.soc_min = r.soc_end = rank / 100.0;
      r.voltage_min_V = 3 + rank / 100.0;
      r.wakes_completed = 100 + rank;
      r.longest_gap_s = 1000 - rank;
      r.brownouts = r.needs_human = 0;
      results.push_back(r);
    }
  }
};

}  // namespace

TEST_CASE("ensemble.json: quantiles are members' values, each ranked from its own worst") {
  const Twenty twenty;
  const auto q = ensemble_json({}, twenty.results, {}).at("quantiles");
  // Of 20, two are as bad as the tenth or worse, ten as the median or worse.
  CHECK(q.at("soc_min").at("worst") == 0.01);
  CHECK(q.at("soc_min").at("worst_member") == "seed-1");
  CHECK(q.at("soc_min").at("tenth") == 0.02);
  CHECK(q.at("soc_min").at("median") == 0.10);
  CHECK(q.at("longest_gap_s").at("worst") == 999);
  CHECK(q.at("longest_gap_s").at("tenth") == 998);
  CHECK(q.at("longest_gap_s").at("median") == 990);
  CHECK(q.at("wakes_completed").at("worst") == 101);
}

TEST_CASE("ensemble.json: the values that were given in place of the file's") {
  Scenario scenario;
  scenario.overrides = {{"cell.charge", "55 %", "80 %"}, {"cell.capacity", "4 Ah", {}}};
  const auto json = ensemble_json(scenario, Twenty().results, {});
  CHECK(json.at("overrides").dump() ==
        R"([{"path":"cell.charge","value":"55 %","was":"80 %"},{"path":"cell.capacity","value":"4 Ah"}])");
}

TEST_CASE("ensemble.json: counts of what held, and of what the others failed") {
  Twenty twenty;
  twenty.results[0].survives = false;
  twenty.results[0].failed = {"brownouts", "longest_gap"};
  twenty.results[0].damage = 2;
  twenty.results[1].survives = false;
  twenty.results[1].failed = {"brownouts"};
  twenty.results[2].survives.reset();
  twenty.results[2].undecided = {"needs_human"};
  twenty.results[3].survives.reset();
  twenty.results[3].error = "no operating point, at noon";
  const auto json = ensemble_json({}, twenty.results, {});
  const auto& c = json.at("counts");
  CHECK(json.at("format") == 1);
  CHECK(c.at("members") == 20);
  CHECK(c.at("held") == 16);
  CHECK(c.at("failed") == 2);
  CHECK(c.at("undecided") == 1);
  CHECK(c.at("not_completed") == 1);
  CHECK(c.at("failed_by_requirement") == nlohmann::ordered_json{{"brownouts", 2}, {"longest_gap", 1}});
  CHECK(c.at("undecided_by_requirement") == nlohmann::ordered_json{{"needs_human", 1}});
  for (std::size_t i = 0; i < 20; ++i) CHECK(json.at("members").at(i).at("name") == twenty.members[i].name);
  CHECK(json.at("members").at(2).at("survives").is_null());
  CHECK(json.at("members").at(0).at("damage") == 2);
  CHECK(json.at("quantiles").at("damage").at("worst") == 2);
  CHECK(json.at("members").at(3).at("error") == "no operating point, at noon");
  CHECK_FALSE(json.at("members").at(3).contains("soc_min"));

  const std::string csv = members_csv(twenty.results);
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 21);
  CHECK(csv.find("\nseed-1,,1,2024-10-15,2025-03-31,FAILED,brownouts longest_gap,,101,999,0,2,0,1,1,3.01,,\n") !=
        std::string::npos);
  CHECK(csv.find("\nseed-2,,2,2024-10-15,2025-03-31,not completed,,,,,,,,,,,,\"no operating point, at noon\"\n") !=
        std::string::npos);
}
