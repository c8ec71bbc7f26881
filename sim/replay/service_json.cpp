#include "sim/replay/service_json.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr double joules_per_kwh = 3.6e6;

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json number(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

Json held_json(Held held) { return held == Held::undecided ? Json(nullptr) : Json(held == Held::yes); }

Json margin_json(const ThinnestMargin& m) {
  return {{"part", m.part->name},
          {"threshold", m.margin->name},
          {"margin_V", number(m.value)},
          {"crossed", m.crossed},
          {"time", std::isfinite(m.value) ? Json(iso_time(m.at, 3)) : Json(nullptr)},
          {"worst_case", m.worst_case}};
}

}  // namespace

Json service_json(const ServiceRecord& s, Tick span) {
  return {
      {"due", s.due},
      {"wakes", s.wakes},
      {"wakes_completed", s.completed},
      {"wakes_missed", s.missed},
      {"failed_starts", s.failed_starts},
      {"longest_gap_s", seconds(s.longest_gap.length())},
      {"longest_gap",
       {{"from", iso_time(s.longest_gap.begin)}, {"to", iso_time(s.longest_gap.end)}, {"open", s.longest_gap.open}}},
      {"worst_day_wakes", or_null(s.worst_day_wakes)},
      {"worst_week_wakes", or_null(s.worst_week_wakes)},
      {"worst_week_from", s.worst_week_wakes ? Json(iso_time(s.worst_week_begin)) : Json(nullptr)},
      {"downtime_s", seconds(s.downtime)},
      {"downtime_fraction", static_cast<double>(s.downtime) / static_cast<double>(span)}};
}

Json brownouts_json(const ServiceRecord& s, const SunnyDays& sky, const RefusedLight& refused, int sunny_days,
                    CivilDate from, CivilDate to) {
  Json by_cause = Json::object(), events = Json::array(), light = Json::object();
  std::map<std::string, int> causes, ids;
  std::map<Outcome, int> outcomes;
  std::optional<double> longest;
  for (const BrownOut& b : s.brownouts) {
    ++causes[b.cause()];
    ++ids[b.cause_id];
    ++outcomes[b.outcome];
    if (b.recovered) longest = std::max(longest.value_or(0), seconds(b.end - b.begin));
    std::map<std::string, int> refused_by;
    for (const std::size_t day : b.sunny_days) {
      if (const std::string by = refused.on_day(day); !by.empty()) ++refused_by[by];
    }
    Json chain = Json::array();
    for (const ChainLink& link : b.chain) {
      chain.push_back({{"time", iso_time(link.time, 9)}, {"part", link.part}, {"event", link.event}});
    }
    events.push_back({{"time", iso_time(b.begin, 9)},
                      {"cause", b.cause()},
                      {"cause_time", iso_time(b.chain.front().time, 9)},
                      {"cause_id", b.cause_id},
                      {"chain", chain},
                      {"attempts", b.attempts},
                      {"outcome", name_of(b.outcome)},
                      {"recovered", b.recovered ? Json(iso_time(*b.recovered, 3)) : Json(nullptr)},
                      {"recovery_s", b.recovered ? Json(seconds(b.end - b.begin)) : Json(nullptr)},
                      {"needs_human_since", b.needs_human_since ? Json(iso_time(*b.needs_human_since)) : Json(nullptr)},
                      {"sunny_days", b.sunny_days.size()},
                      {"sunny_days_refused_by", refused_by}});
  }
  for (const auto& [cause, n] : causes) by_cause[cause] = n;
  const int months = (to.year - from.year) * 12 + to.month - from.month + 1;
  for (int i = 0; i < std::min(months, 12); ++i) {
    const int month = (from.month - 1 + i) % 12;
    light[std::to_string(month + 1)] = sky.median_of_month[static_cast<std::size_t>(month)] / joules_per_kwh;
  }
  return {{"count", s.brownouts.size()},
          {"by_cause", by_cause},
          {"by_cause_id", ids},
          {"recovered", outcomes[Outcome::recovered]},
          {"needs_human", outcomes[Outcome::needs_human]},
          {"undecided", outcomes[Outcome::undecided]},
          {"longest_recovery_s", or_null(longest)},
          {"sunny_days", sunny_days},
          {"sunny_day_kWh_m2_by_month", light},
          {"events", events}};
}

Json damage_json(const std::vector<Damage>& damages) {
  Json all = Json::array(), by_part = Json::object(), by_kind = Json::object();
  for (const Damage& d : damages) {
    by_part[d.part] = by_part.value(d.part, std::size_t{0}) + d.times;
    by_kind[d.limit->name] = by_kind.value(d.limit->name, std::size_t{0}) + d.times;
    all.push_back({{"part", d.part},
                   {"kind", d.limit->name},
                   {"text", damage_text(d)},
                   {"times", d.times},
                   {"first", iso_time(d.first, 9)},
                   {"last", iso_time(d.last, 9)},
                   {"beyond_s", number(d.beyond)},
                   {"worst", number(in_unit(d.worst, d.limit->unit))},
                   {"worst_time", iso_time(d.worst_at, 9)},
                   {"limit", number(in_unit(d.allowed, d.limit->unit))},
                   {"unit", d.limit->unit.text}});
  }
  return {{"count", times_damaged(damages)}, {"by_part", by_part}, {"by_kind", by_kind}, {"all", all}};
}

std::vector<DesignFinding> findings_beside(const Verdict& v, const std::vector<Damage>& damages) {
  std::vector<DesignFinding> findings;
  const auto allowed = [&](const char* name) {
    const auto r = std::find_if(v.results.begin(), v.results.end(),
                                [&](const RequirementResult& one) { return one.requirement->name == name; });
    return r == v.results.end() || r->held != Held::yes || r->value == 0.0
               ? std::string()
               : " (the scenario allows " + r->limit_text + ")";
  };
  for (const Damage& d : damages) {
    findings.push_back({"damage",
                        {d.part},
                        damage_text(d) + ", first on " + iso_time(d.first) + ", " + duration_text(d.beyond) +
                            " in all" + allowed("damage") + ": a real part is damaged, and what follows is no forecast",
                        d.limit->remedy});
  }
  const std::string brownouts = allowed("brownouts");
  if (brownouts.empty()) return findings;
  const auto r = std::find_if(v.results.begin(), v.results.end(),
                              [](const RequirementResult& one) { return one.requirement->name == "brownouts"; });
  findings.push_back({"brownouts-allowed", {}, how_many(r->value_text, "brown-out") + brownouts, ""});
  return findings;
}

Json mechanisms_json(const MechanismLog& log) {
  Json all = Json::array();
  for (const MechanismRecord* r : log.records()) {
    Json one = {{"id", r->id},
                {"part", r->part},
                {"count", std::llround(r->count)},
                {"counts", r->counts},
                {"first", iso_time(r->first, 3)},
                {"last", iso_time(r->last, 3)},
                {"text", r->text}};
    for (const auto& [key, fact] : r->facts.items()) one[key] = fact;
    all.push_back(std::move(one));
  }
  return all;
}

Json margins_json(const MarginLog& log) {
  Json all = Json::array();
  for (const ThinnestMargin& m : log.all()) all.push_back(margin_json(m));
  const ThinnestMargin* thinnest = log.thinnest();
  return {{"thinnest", thinnest ? margin_json(*thinnest) : Json(nullptr)}, {"all", all}};
}

Json stepped_over_json(const HiccupLog& log) {
  Json restarts = Json::array();
  for (const HiccupTotal& h : log.failures()) {
    restarts.push_back({{"part", h.part}, {"event", h.event}, {"times", std::llround(h.times)}});
  }
  return {{"time_s", seconds(log.time())},
          {"energy_J", number(log.energy())},
          {"unbalanced_J", number(log.unbalanced())},
          {"restarts_in_vain", restarts}};
}

Json requirements_json(const Verdict& v) {
  Json all = Json::array();
  for (const RequirementResult& r : v.results) {
    const Requirement& q = *r.requirement;
    all.push_back({{"name", q.name},
                   {"relation", q.at_most ? "at most" : "at least"},
                   {"limit", in_unit(q.limit, q.unit)},
                   {"value", r.value ? number(in_unit(*r.value, q.unit)) : Json(nullptr)},
                   {"unit", q.unit.text},
                   {"limit_text", r.limit_text},
                   {"value_text", r.value ? Json(r.value_text) : Json(nullptr)},
                   {"held", held_json(r.held)},
                   {"by_default", q.by_default}});
  }
  return all;
}

Json verdict_json(const Verdict& v, bool typical_year) {
  return {{"survives", held_json(v.survives)}, {"text", v.text}, {"typical_year", typical_year}};
}

}  // namespace overwinter
