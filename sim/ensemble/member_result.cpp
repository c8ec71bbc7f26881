#include "sim/ensemble/member_result.hpp"

#include <cmath>
#include <tuple>

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

int rank(const MemberResult& r) {
  if (!r.complete()) return 0;
  return !r.survives ? 2 : *r.survives ? 3 : 1;
}

double number(const Json& j) { return j.is_null() ? 0 : j.get<double>(); }

}  // namespace

MemberResult result_of(const Member& member, DaySpan span, const Json& summary) {
  MemberResult r;
  r.member = &member;
  r.span = span;
  const Json &verdict = summary.at("verdict"), &survives = verdict.at("survives");
  r.typical_year = verdict.at("typical_year").get<bool>();
  if (const auto cut = summary.find("cut_short"); cut != summary.end()) {
    r.cut_short = cut->at("reached").get<std::string>();
  }
  r.survives = survives.is_null() ? std::nullopt : std::optional<bool>(survives.get<bool>());
  for (const Json& q : summary.at("requirements")) {
    const Json& held = q.at("held");
    if (held.is_null()) {
      r.undecided.push_back(q.at("name").get<std::string>());
    } else if (!held.get<bool>()) {
      r.failed.push_back(q.at("name").get<std::string>());
    }
  }
  r.damage = summary.at("damage").at("count").get<double>();
  if (const auto service = summary.find("service"); service != summary.end()) {
    r.wakes_completed = service->at("wakes_completed").get<double>();
    r.longest_gap_s = service->at("longest_gap_s").get<double>();
    r.brownouts = summary.at("brownouts").at("count").get<double>();
    r.needs_human = summary.at("brownouts").at("needs_human").get<double>();
  }
  r.findings = summary.at("findings").size();
  const Json& cell = summary.at("cell");
  r.soc_min = number(cell.at("soc_min"));
  r.soc_end = number(cell.at("soc_end"));
  r.voltage_min_V = number(cell.at("voltage_min_V"));
  return r;
}

bool worse(const MemberResult& a, const MemberResult& b) {
  const auto badness = [](const MemberResult& r) {
    return std::tuple(rank(r), -r.needs_human.value_or(0), -r.damage, -r.brownouts.value_or(0),
                      -std::floor(r.longest_gap_s.value_or(0) / 60), r.soc_min);
  };
  return badness(a) < badness(b);
}

std::string verdict_word(const MemberResult& r) {
  static const char* const words[] = {"not completed", "FAILED", "undecided", "held"};
  return r.cut_short && !r.survives ? "cut short" : words[rank(r)];
}

}  // namespace overwinter
