#include "sim/replay/service_json.hpp"

#include <doctest/doctest.h>

#include "tests/sim/service/support/scripted.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

constexpr Tick second = ticks_per_second, hour = 3600 * second;
const Tick march_1 = days_since_epoch({2025, 3, 1}) * ticks_per_day;

BrownOut brownout(Tick begin, Tick end, Outcome outcome, bool recovered, const std::string& part) {
  BrownOut b;
  b.begin = begin;
  b.end = end;
  b.chain = {{begin - 1, part, "lockout"}, {begin, "logger", "brown-out"}};
  b.outcome = outcome;
  b.attempts = 2;
  if (recovered) b.recovered = end;
  if (outcome == Outcome::needs_human) b.needs_human_since = end - hour;
  return b;
}

/// True where every number is finite or null: the writer of JSON turns others into null, so look before it does.
bool finite(const Json& j) {
  if (j.is_number_float()) return std::isfinite(j.get<double>());
  if (!j.is_structured()) return true;
  return std::all_of(j.begin(), j.end(), [](const Json& inner) { return finite(inner); });
}

/// Of a run that has not begun.
RefusedLight dark_days() {
  static const Diagram nothing{Scenario{}};
  return RefusedLight(nothing, march_1);
}

}  // namespace

TEST_CASE("service JSON: the numbers under their keys, times in seconds and ISO 8601 UTC") {
  ServiceRecord s;
  s.due = 10;
  s.wakes = 9;
  s.completed = 8;
  s.missed = 2;
  s.failed_starts = 3;
  s.longest_gap = {march_1 + hour, march_1 + 5 * hour + second / 2, true};
  s.worst_day_wakes = 1;
  s.worst_week_wakes = 7;
  s.worst_week_begin = march_1 + ticks_per_day;
  s.downtime = 6 * hour;
  const Json j = service_json(s, 10 * ticks_per_day);
  CHECK(j == Json::parse(R"({"due": 10, "wakes": 9, "wakes_completed": 8, "wakes_missed": 2, "failed_starts": 3,
      "longest_gap_s": 14400.5,
      "longest_gap": {"from": "2025-03-01T01:00:00Z", "to": "2025-03-01T05:00:00Z", "open": true},
      "worst_day_wakes": 1, "worst_week_wakes": 7, "worst_week_from": "2025-03-02T00:00:00Z",
      "downtime_s": 21600.0, "downtime_fraction": 0.025})"));
}

TEST_CASE("service JSON: what a short span does not tell is null") {
  const Json j = service_json(ServiceRecord{}, ticks_per_day);
  CHECK(j.at("worst_day_wakes").is_null());
  CHECK(j.at("worst_week_wakes").is_null());
  CHECK(j.at("worst_week_from").is_null());
  CHECK(finite(j));
}

TEST_CASE("brown-outs JSON: counts, causes, chains and both numbers of a sunny day") {
  ServiceRecord s;
  s.brownouts = {brownout(march_1 + 2 * hour + 34'000, march_1 + 5 * hour, Outcome::recovered, true, "boost"),
                 brownout(march_1 + 30 * hour, march_1 + 99 * hour, Outcome::needs_human, true, "boost"),
                 brownout(march_1 + 100 * hour, march_1 + 120 * hour, Outcome::undecided, false, "guard")};
  for (std::size_t i : {0, 1, 2}) s.brownouts[i].cause_id = i < 2 ? "lockout-hiccup" : "protector-trip";
  const Weather weather = test::march(5);
  const Json j = brownouts_json(s, SunnyDays(weather), dark_days(), 4, {2025, 3, 1}, {2025, 3, 5});
  CHECK(j.at("count") == 3);
  CHECK(j.at("by_cause") == Json::parse(R"({"boost: lockout": 2, "guard: lockout": 1})"));
  CHECK(j.at("by_cause_id") == Json::parse(R"({"lockout-hiccup": 2, "protector-trip": 1})"));
  CHECK(j.at("recovered") == 1);
  CHECK(j.at("needs_human") == 1);
  CHECK(j.at("undecided") == 1);
  CHECK(j.at("longest_recovery_s") == 69.0 * 3600);
  CHECK(j.at("sunny_days") == 4);
  CHECK(j.at("sunny_day_kWh_m2_by_month").size() == 1);
  CHECK(j.at("sunny_day_kWh_m2_by_month").at("3").get<double>() == doctest::Approx(0.2).epsilon(1e-12));
  const Json& events = j.at("events");
  REQUIRE(events.size() == 3);
  CHECK(events[0] == Json::parse(R"({"time": "2025-03-01T02:00:00.000034000Z", "cause": "boost: lockout",
      "cause_time": "2025-03-01T02:00:00.000033999Z", "cause_id": "lockout-hiccup", "chain": [{"time": "2025-03-01T02:00:00.000033999Z", "part": "boost", "event": "lockout"},
                {"time": "2025-03-01T02:00:00.000034000Z", "part": "logger", "event": "brown-out"}],
      "attempts": 2, "outcome": "recovered", "recovered": "2025-03-01T05:00:00.000Z",
      "recovery_s": 10799.999966, "needs_human_since": null, "sunny_days": 0, "sunny_days_refused_by": {}})"));
  CHECK(events[1].at("outcome") == "needs human");
  CHECK(events[1].at("needs_human_since") == "2025-03-05T02:00:00Z");
  CHECK(events[1].at("recovered") == "2025-03-05T03:00:00.000Z");
  CHECK(events[2].at("outcome") == "undecided");
  CHECK(events[2].at("recovered").is_null());
  CHECK(events[2].at("recovery_s").is_null());
  CHECK(finite(j));
}

TEST_CASE("brown-outs JSON: a quiet run") {
  const Json j = brownouts_json(ServiceRecord{}, SunnyDays(test::march(1)), dark_days(), 3, {2025, 3, 1}, {2025, 3, 1});
  CHECK(j.at("count") == 0);
  CHECK(j.at("by_cause") == Json::object());
  CHECK(j.at("events") == Json::array());
  CHECK(j.at("longest_recovery_s").is_null());
}

TEST_CASE("brown-outs JSON: the months of the span, each once, from its first") {
  const auto months = [](CivilDate from, CivilDate to) {
    const Json j = brownouts_json(ServiceRecord{}, SunnyDays(test::march(1)), dark_days(), 3, from, to);
    std::vector<std::string> keys;
    for (const auto& [key, value] : j.at("sunny_day_kWh_m2_by_month").items()) keys.push_back(key);
    return keys;
  };
  CHECK(months({2024, 10, 15}, {2025, 3, 31}) == std::vector<std::string>{"10", "11", "12", "1", "2", "3"});
  CHECK(months({2025, 5, 1}, {2025, 5, 1}) == std::vector<std::string>{"5"});
  CHECK(months({2025, 5, 31}, {2028, 1, 1}).size() == 12);
}

TEST_CASE("damage JSON: by part and kind, and each limit with when, how long and how far") {
  CHECK(damage_json({}) == Json::parse(R"({"count": 0, "by_part": {}, "by_kind": {}, "all": []})"));
  static const AbsoluteLimit cold{
      "charged too cold", "charged below {}", "wait", true, 0, unit_of<Temperature>("degC"), {}, {}};
  const std::vector<Damage> damages = {
      {"cell", &cold, 3, march_1, march_1 + 2 * hour, 5400, 270.15, march_1 + hour, 273.15}};
  const Json j = damage_json(damages);
  CHECK(finite(j));
  CHECK(j.at("count") == 3);
  CHECK(j.at("by_part") == Json{{"cell", 3}});
  CHECK(j.at("by_kind") == Json{{"charged too cold", 3}});
  const Json& one = j.at("all").at(0);
  CHECK(one.at("text") == "cell charged below 0 degC 3 times, down to -3 degC");
  CHECK(one.at("times") == 3);
  CHECK(one.at("first") == "2025-03-01T00:00:00.000000000Z");
  CHECK(one.at("last") == "2025-03-01T02:00:00.000000000Z");
  CHECK(one.at("beyond_s") == 5400.0);
  CHECK(one.at("worst").get<double>() == doctest::Approx(-3));
  CHECK(one.at("worst_time") == "2025-03-01T01:00:00.000000000Z");
  CHECK(one.at("limit").get<double>() == doctest::Approx(0));
  CHECK(one.at("unit") == "degC");

  // Beside the verdict: damage always, brown-outs where the scenario allows them.
  ServiceRecord s;
  s.due = 1;
  s.brownouts = {brownout(march_1, march_1 + hour, Outcome::recovered, true, "boost")};
  const auto findings = [&](double brownouts, double damage) {
    std::vector<Requirement> all;
    for (const RequirementKind& k : requirement_kinds()) {
      if (k.name == "brownouts") all.push_back({k.name, true, brownouts, k.fields.front().unit, {}, false});
      if (k.name == "damage") all.push_back({k.name, true, damage, k.fields.front().unit, {}, false});
    }
    return findings_beside(judge(all, {&s, ticks_per_day, 1, nullptr, damages}), damages);
  };
  const std::vector<DesignFinding> failed = findings(0, 0), allowed = findings(2, 4);
  REQUIRE(failed.size() == 1);
  CHECK(failed[0].rule == "damage");
  CHECK(failed[0].parts == std::vector<std::string>{"cell"});
  CHECK(failed[0].text ==
        "cell charged below 0 degC 3 times, down to -3 degC, first on 2025-03-01T00:00:00Z, 1.5 h in all: a real part "
        "is damaged, and what follows is no forecast");
  CHECK(failed[0].suggestion == "wait");
  REQUIRE(allowed.size() == 2);
  CHECK(allowed[0].text.find("1.5 h in all (the scenario allows 4): a real part") != std::string::npos);
  CHECK(allowed[1].rule == "brownouts-allowed");
  CHECK(allowed[1].text == "1 brown-out (the scenario allows 2)");
}

TEST_CASE("margins JSON: the thinnest, when and to which threshold; none in force is null") {
  ModelTable t;
  t.margins = {{"input above lockout", "", [](const Model&, const View&) { return 0.0; }}};
  const Diagram diagram(test::toys({{"boost", std::make_shared<test::Toy>(std::move(t))}}));
  const Weather weather = test::march(1);
  const Service service(diagram, weather.begin(), weather.end(), SunnyDays(weather), 3);
  MarginLog log(diagram, service);
  CHECK(margins_json(log) == Json::parse(R"({"thinnest": null, "all": [
      {"part": "boost", "threshold": "input above lockout", "margin_V": null, "crossed": false, "time": null,
       "worst_case": false},
      {"part": "boost", "threshold": "input above lockout", "margin_V": null, "crossed": false, "time": null,
       "worst_case": true}]})"));
  log.on_worst_case(march_1 + 5'500'000, 0, 0, -0.013);
  const Json j = margins_json(log);
  CHECK(j.at("thinnest") == Json::parse(R"({"part": "boost", "threshold": "input above lockout", "margin_V": -0.013,
      "crossed": false, "time": "2025-03-01T00:00:00.005Z", "worst_case": true})"));
  CHECK(j.at("all").size() == 2);
  CHECK(finite(j));
}

TEST_CASE("requirements and verdict JSON: limits and values in the requirement's unit, undecided is null") {
  std::vector<Requirement> all;
  for (const RequirementKind& k : requirement_kinds()) {
    if (k.name == "longest_gap") all.push_back({k.name, k.at_most, 86400, k.fields.front().unit, {}, false});
    if (k.name == "worst_day_wakes") all.push_back({k.name, k.at_most, 1, k.fields.front().unit, {}, true});
    if (k.name == "lowest_charge") all.push_back({k.name, k.at_most, 0.1, k.fields.front().unit, {}, false});
  }
  ServiceRecord s;
  s.due = 2;
  s.completed = 2;
  s.longest_gap = {march_1, march_1 + 12 * hour, false};
  const Verdict v = judge(all, {&s, ticks_per_day, 0.05, nullptr});
  const Json j = requirements_json(v);
  REQUIRE(j.size() == 3);
  CHECK(j[0] == Json::parse(R"({"name": "longest_gap", "relation": "at most", "limit": 24.0, "value": 12.0, "unit": "h",
      "limit_text": "24 h", "value_text": "12 h", "held": true, "by_default": false})"));
  CHECK(j[1] == Json::parse(R"({"name": "worst_day_wakes", "relation": "at least", "limit": 1.0, "value": null,
      "unit": "1", "limit_text": "1", "value_text": null, "held": null, "by_default": true})"));
  CHECK(j[2].at("held") == false);
  CHECK(j[2].at("value").get<double>() == doctest::Approx(5).epsilon(1e-12));
  CHECK(j[2].at("unit") == "%");
  CHECK(j[2].at("value_text") == "5 %");

  const Json failed = verdict_json(v, true);
  CHECK(failed.at("survives") == false);
  CHECK(failed.at("typical_year") == true);
  CHECK(failed.at("text") == v.text);
  const Verdict open = judge({all[1]}, {&s, ticks_per_day, 0.05, nullptr});
  CHECK(verdict_json(open, false).at("survives").is_null());
  CHECK(verdict_json(judge({all[0]}, {&s, ticks_per_day, 0.05, nullptr}), false).at("survives") == true);
}
