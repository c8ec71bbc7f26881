#include "sim/ensemble/ensemble_tables.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "sim/csv_text.hpp"
#include "sim/sha256.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

/// A number that members are ranked by.
struct Ranked {
  const char* key;
  std::optional<double> (*of)(const MemberResult&);
  bool least_is_worst;
};

const Ranked ranked[] = {
    {"wakes_completed", [](const MemberResult& r) { return r.wakes_completed; }, true},
    {"longest_gap_s", [](const MemberResult& r) { return r.longest_gap_s; }, false},
    {"brownouts", [](const MemberResult& r) { return r.brownouts; }, false},
    {"damage", [](const MemberResult& r) { return std::optional<double>(r.damage); }, false},
    {"soc_min", [](const MemberResult& r) { return std::optional<double>(r.soc_min); }, true},
    {"voltage_min_V", [](const MemberResult& r) { return std::optional<double>(r.voltage_min_V); }, true},
};

Json or_null(const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); }

/// Of counts, which are whole.
Json count_or_null(const std::optional<double>& value) { return value ? Json(std::llround(*value)) : Json(nullptr); }

Json member_json(const MemberResult& r) {
  const Member& m = *r.member;
  Json j = {{"name", m.name},
            {"weather", m.weather ? Json(*m.weather) : Json(nullptr)},
            {"seed", m.seed ? Json(*m.seed) : Json(nullptr)},
            {"from", iso(r.span.from)},
            {"to", iso(r.span.to)},
            {"completed", r.complete()}};
  if (!r.complete()) {
    j["error"] = r.error;
    return j;
  }
  if (r.cut_short) j["cut_short"] = *r.cut_short;
  j["survives"] = r.survives ? Json(*r.survives) : Json(nullptr);
  j["failed"] = r.failed;
  j["undecided"] = r.undecided;
  j["wakes_completed"] = count_or_null(r.wakes_completed);
  j["longest_gap_s"] = or_null(r.longest_gap_s);
  j["brownouts"] = count_or_null(r.brownouts);
  j["damage"] = std::llround(r.damage);
  j["needs_human"] = count_or_null(r.needs_human);
  j["soc_min"] = r.soc_min;
  j["soc_end"] = r.soc_end;
  j["voltage_min_V"] = r.voltage_min_V;
  j["findings"] = r.findings;
  return j;
}

Json quantiles_json(const std::vector<MemberResult>& results) {
  Json all = Json::object();
  for (const Ranked& number : ranked) {
    std::vector<std::pair<double, const MemberResult*>> values;
    for (const MemberResult& r : results) {
      if (const auto value = r.complete() && !r.cut_short ? number.of(r) : std::nullopt)
        values.emplace_back(*value, &r);
    }
    if (values.empty()) continue;
    std::stable_sort(values.begin(), values.end(), [&](const auto& a, const auto& b) {
      return number.least_is_worst ? a.first < b.first : a.first > b.first;
    });
    const auto at = [&](std::size_t tenths) { return values[(tenths * values.size() + 9) / 10 - 1].first; };
    all[number.key] = {{"median", at(5)},
                       {"tenth", at(1)},
                       {"worst", values.front().first},
                       {"worst_member", values.front().second->member->name}};
  }
  return all;
}

Json counted(const std::vector<MemberResult>& results, std::vector<std::string> MemberResult::*list) {
  Json counts = Json::object();
  for (const MemberResult& r : results) {
    for (const std::string& name : r.*list) counts[name] = counts.value(name, 0) + 1;
  }
  return counts;
}

}  // namespace

Json ensemble_json(const Scenario& scenario, const std::vector<MemberResult>& results, const Json& cut_short) {
  const auto count = [&](auto which) { return std::count_if(results.begin(), results.end(), which); };
  Json members = Json::array(), inputs = Json::object();
  for (const MemberResult& r : results) members.push_back(member_json(r));
  for (const InputFile& file : scenario.inputs) inputs[file.path] = sha256(file.text);
  Json j;
  j["format"] = 1;
  j["version"] = OVERWINTER_VERSION;
  j["scenario"] = scenario.title;
  j["file"] = scenario.path;
  if (!cut_short.is_null()) j["cut_short"] = cut_short;
  j["counts"] = {{"members", results.size()},
                 {"held", count([](const auto& r) { return r.complete() && r.survives.value_or(false); })},
                 {"failed", count([](const auto& r) { return r.complete() && r.survives && !*r.survives; })},
                 {"undecided", count([](const auto& r) { return r.complete() && !r.survives; })},
                 {"not_completed", count([](const auto& r) { return !r.complete(); })},
                 {"cut_short", count([](const auto& r) { return r.cut_short.has_value(); })},
                 {"typical_years", count([](const auto& r) { return r.typical_year; })},
                 {"with_findings", count([](const auto& r) { return r.findings > 0; })},
                 {"requirements", scenario.requirements.size()},
                 {"failed_by_requirement", counted(results, &MemberResult::failed)},
                 {"undecided_by_requirement", counted(results, &MemberResult::undecided)}};
  j["quantiles"] = quantiles_json(results);
  j["members"] = members;
  j["overrides"] = scenario.overrides;
  j["inputs_sha256"] = inputs;
  return j;
}

std::string members_csv(const std::vector<MemberResult>& results) {
  const auto text = [](const std::optional<double>& value) {
    return value ? fmt::format("{}", *value) : std::string();
  };
  std::string csv =
      "member,weather,seed,from,to,verdict,failed,undecided,wakes completed,longest gap [s],brown-outs,damage,needs "
      "human,"
      "lowest charge [%],charge at the end [%],lowest voltage [V],cut short,error\n";
  for (const MemberResult& r : results) {
    const Member& m = *r.member;
    csv += fmt::format("{},{},{},{},{},{},", csv_field(m.name), csv_field(m.weather.value_or("")),
                       m.seed ? std::to_string(*m.seed) : "", iso(r.span.from), iso(r.span.to), verdict_word(r));
    if (r.complete()) {
      csv +=
          fmt::format("{},{},{},{},{},{},{},{},{},{},{},\n", fmt::join(r.failed, " "), fmt::join(r.undecided, " "),
                      text(r.wakes_completed), text(r.longest_gap_s), text(r.brownouts), r.damage, text(r.needs_human),
                      100 * r.soc_min, 100 * r.soc_end, r.voltage_min_V, r.cut_short.value_or(""));
    } else {
      csv += ",,,,,,,,,,," + csv_field(r.error) + "\n";
    }
  }
  return csv;
}

}  // namespace overwinter
