#include "sim/service/verdict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

struct Value {
  std::optional<double> now;
  bool may_grow = false;  ///< until what is open at the span's end is decided
  bool crossed = false;   ///< a margin, of a threshold that was crossed
};

Value count(std::optional<std::size_t> n) {
  return {n ? std::optional<double>(static_cast<double>(*n)) : std::nullopt, false};
}

Value value_of(const std::string& name, const Achieved& a) {
  if (name == "lowest_charge") return {a.lowest_charge, false};
  if (name == "thinnest_margin") {
    if (!a.thinnest_margin) return {};
    return {a.thinnest_margin->value, false, a.thinnest_margin->crossed};
  }
  if (!a.service) throw std::logic_error(name + " is required where nothing wakes");
  const ServiceRecord& s = *a.service;
  const auto with = [&](Outcome outcome) {
    return std::count_if(s.brownouts.begin(), s.brownouts.end(),
                         [&](const BrownOut& b) { return b.outcome == outcome; });
  };
  if (name == "longest_gap") return {seconds(s.longest_gap.length()), false};
  if (name == "brownouts") return count(s.brownouts.size());
  if (name == "needs_human") return {static_cast<double>(with(Outcome::needs_human)), with(Outcome::undecided) > 0};
  if (name == "downtime") return {static_cast<double>(s.downtime) / static_cast<double>(a.span), false};
  if (name == "worst_day_wakes") return count(s.worst_day_wakes);
  if (name == "worst_week_wakes") return count(s.worst_week_wakes);
  if (name == "longest_recovery") {
    Value longest{0.0, false};
    for (const BrownOut& b : s.brownouts) {
      longest.now = std::max(*longest.now, seconds(b.end - b.begin));
      longest.may_grow = longest.may_grow || !b.recovered;
    }
    return longest;
  }
  throw std::logic_error("no run yields " + name);
}

Held held(const Requirement& r, const Value& value) {
  if (!value.now) return Held::undecided;
  if (value.crossed) return Held::no;
  const bool met = r.at_most ? *value.now <= r.limit : *value.now >= r.limit;
  if (!met) return Held::no;
  return value.may_grow ? Held::undecided : Held::yes;
}

RequirementResult result(const Requirement& q, const Value& value) {
  const auto text = [&](double si) {
    if (is_duration(q.unit)) return duration_text(si);
    if (q.unit.text == "1") return quantity_text(si, q.unit);
    return fmt::format("{:.4g} {}", in_unit(si, q.unit), q.unit.text);
  };
  RequirementResult r{&q, value.now, held(q, value), {}, text(q.limit)};
  if (value.now) r.value_text = text(*value.now);
  if (value.crossed) r.value_text = "none (threshold crossed)";
  const bool a_little_off = r.held == Held::no && r.value_text == r.limit_text;
  if (a_little_off) r.value_text = quantity_text(*value.now, q.unit);
  return r;
}

std::string sentence(const Verdict& v, bool nothing_due) {
  std::vector<std::string> failed, open;
  for (const RequirementResult& r : v.results) {
    const Requirement& q = *r.requirement;
    const std::string name = worded(q.name);
    if (r.held == Held::no) {
      failed.push_back(fmt::format("{} is {}, required {} {}", name, r.value_text, q.at_most ? "at most" : "at least",
                                   r.limit_text));
    }
    if (r.held == Held::undecided) open.push_back(name);
  }
  if (!failed.empty()) {
    std::string all;
    for (const std::string& f : failed) all += (all.empty() ? "" : "; ") + f;
    return "The instrument does not survive: " + all + ".";
  }
  if (nothing_due) return "Undecided: no alarm came due in the span in time to be answered.";
  if (!open.empty()) return "Undecided at the end of the span: " + listed(open) + ".";
  return "The instrument survives: every requirement held.";
}

}  // namespace

Verdict judge(const std::vector<Requirement>& requirements, const Achieved& achieved) {
  Verdict v;
  for (const Requirement& r : requirements) v.results.push_back(result(r, value_of(r.name, achieved)));
  const auto any = [&](Held h) {
    return std::any_of(v.results.begin(), v.results.end(), [&](const RequirementResult& r) { return r.held == h; });
  };
  const bool nothing_due = achieved.service && achieved.service->due == 0;
  v.survives = any(Held::no) ? Held::no : any(Held::undecided) || nothing_due ? Held::undecided : Held::yes;
  v.text = sentence(v, nothing_due);
  return v;
}

}  // namespace overwinter
