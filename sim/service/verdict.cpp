#include "sim/service/verdict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <stdexcept>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

/// How a requirement reads in a sentence; {} is the value, of damage what was damaged.
struct Words {
  std::string one, many, open;
};

const Words& words_of(const std::string& name) {
  static const std::map<std::string, Words> words = {
      {"longest_gap", {"longest gap {}", "longest gap {}", "longest gap"}},
      {"brownouts", {"{} brown-out", "{} brown-outs", "brown-outs"}},
      {"damage", {"{}", "{}", "damage"}},
      {"needs_human", {"{} brown-out in need of a human", "{} brown-outs in need of a human", "need of a human"}},
      {"downtime", {"downtime {} of the span", "downtime {} of the span", "downtime"}},
      {"worst_day_wakes", {"{} completed wake on the worst day", "{} completed wakes on the worst day", "worst day"}},
      {"worst_week_wakes",
       {"{} completed wake in the worst week", "{} completed wakes in the worst week", "worst week"}},
      {"longest_recovery", {"longest recovery {}", "longest recovery {}", "longest recovery"}},
      {"lowest_charge", {"lowest charge {}", "lowest charge {}", "lowest charge"}},
      {"thinnest_margin", {"thinnest margin {}", "thinnest margin {}", "thinnest margin"}}};
  const auto found = words.find(name);
  if (found == words.end()) throw std::logic_error("no words for " + name);
  return found->second;
}

struct Value {
  std::optional<double> now;
  bool may_grow = false;             ///< until what is open at the span's end is decided
  bool crossed = false;              ///< a margin, of a threshold that was crossed
  std::optional<double> whole = {};  ///< of a run that was cut short: what it is over the span if no more is added
};

Value count(std::optional<std::size_t> n) {
  return {n ? std::optional<double>(static_cast<double>(*n)) : std::nullopt, false};
}

Value value_of(const std::string& name, const Achieved& a) {
  if (name == "damage") return count(times_damaged(a.damages));
  if (name == "lowest_charge") return {a.lowest_charge, false};
  if (name == "thinnest_margin") {
    if (!a.thinnest_margin) return {};
    const bool nothing_served = a.service && a.service->due > 0 && a.service->completed == 0;
    return {a.thinnest_margin->value, nothing_served, a.thinnest_margin->crossed};
  }
  if (!a.service) throw std::logic_error(name + " is required where nothing wakes");
  const ServiceRecord& s = *a.service;
  const auto with = [&](Outcome outcome) {
    return std::count_if(s.brownouts.begin(), s.brownouts.end(),
                         [&](const BrownOut& b) { return b.outcome == outcome; });
  };
  if (name == "longest_gap") {
    const bool open =
        std::any_of(s.brownouts.begin(), s.brownouts.end(), [](const BrownOut& b) { return !b.recovered; });
    return {seconds(s.longest_gap.length()), open || s.completed == 0};
  }
  if (name == "brownouts") return count(s.brownouts.size());
  if (name == "needs_human") return {static_cast<double>(with(Outcome::needs_human)), with(Outcome::undecided) > 0};
  if (name == "downtime") {
    const auto share_of = [&](Tick span) { return static_cast<double>(s.downtime) / static_cast<double>(span); };
    Value share{share_of(a.span)};
    if (a.cut_short) share.whole = share_of(a.cut_short->span);
    return share;
  }
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

Held held(const Requirement& r, const Value& value, bool cut_short) {
  if (!value.now) return Held::undecided;
  if (value.crossed) return Held::no;
  const double decisive = value.whole.value_or(*value.now);
  const bool met = r.at_most ? decisive <= r.limit : decisive >= r.limit;
  if (!met) return Held::no;
  return value.may_grow || cut_short ? Held::undecided : Held::yes;
}

/// `like`: a duration that is read best in the same unit.
std::string text_of(double si, const Unit& unit, double like, int digits) {
  if (is_duration(unit)) return duration_text_like(si, like, digits);
  if (unit.text == "1") return quantity_text(si, unit);
  return fmt::format("{:.{}g} {}", in_unit(si, unit) + 0.0, digits, unit.text);
}

RequirementResult result(const Requirement& q, const Value& value, bool cut_short) {
  constexpr int most = 15;
  int digits = is_duration(q.unit) ? 3 : 4;
  const double like = q.limit > 0 ? q.limit : value.now.value_or(0);
  RequirementResult r{&q, value.now, held(q, value, cut_short), {}, text_of(q.limit, q.unit, like, digits)};
  if (!value.now) return r;
  r.value_text = text_of(*value.now, q.unit, like, digits);
  const auto same_text = [&r] { return r.held == Held::no && r.value_text == r.limit_text; };
  while (same_text() && digits < most) r.value_text = text_of(*value.now, q.unit, like, ++digits);
  if (r.held == Held::undecided) r.value_text += " so far";
  if (value.crossed) r.value_text = "none (threshold crossed)";
  return r;
}

/// "2 brown-outs, at most 0 allowed".
std::string compared(const RequirementResult& r, const Achieved& a) {
  const Words& words = words_of(r.requirement->name);
  std::string text = r.value == 1.0 ? words.one : words.many;
  text.replace(text.find("{}"), 2, r.requirement->name == "damage" ? damage_text(a.damages) : r.value_text);
  return r.requirement->at_most ? text + ", at most " + r.limit_text + " allowed"
                                : text + ", at least " + r.limit_text + " required";
}

std::string sentence(const Verdict& v, const Achieved& a, bool nothing_due) {
  std::vector<std::string> failed, open;
  for (const RequirementResult& r : v.results) {
    if (r.held == Held::no) failed.push_back(compared(r, a));
    if (r.held == Held::undecided) {
      const std::string& name = words_of(r.requirement->name).open;
      open.push_back(r.value ? name + " (" + r.value_text + ")" : name);
    }
  }
  const bool only_unharmed =
      !a.service && std::all_of(v.results.begin(), v.results.end(),
                                [](const RequirementResult& r) { return r.requirement->by_default; });
  const std::string cut = a.cut_short ? "the run was cut short at " + iso_time(a.cut_short->at) : "";
  if (!failed.empty()) {
    std::string all;
    for (const std::string& f : failed) all += (all.empty() ? "" : "; ") + f;
    return "The instrument does not survive: " + all + (cut.empty() ? "." : "; " + cut + ".");
  }
  if (a.cut_short) return "Undecided: " + cut + (open.empty() ? "." : ", with " + listed(open) + ".");
  if (nothing_due) return "Undecided: no alarm came due in the span in time to be answered.";
  if (!open.empty()) return "Undecided at the end of the span: " + listed(open) + ".";
  if (only_unharmed) return "Nothing was damaged; nothing else is required, for no part can complete a wake.";
  return "The instrument survives: every requirement held.";
}

}  // namespace

Verdict judge(const std::vector<Requirement>& requirements, const Achieved& achieved) {
  Verdict v;
  for (const Requirement& r : requirements) {
    v.results.push_back(result(r, value_of(r.name, achieved), achieved.cut_short.has_value()));
  }
  const auto any = [&](Held h) {
    return std::any_of(v.results.begin(), v.results.end(), [&](const RequirementResult& r) { return r.held == h; });
  };
  const bool nothing_due = achieved.service && achieved.service->due == 0;
  v.survives = any(Held::no)                                                           ? Held::no
               : any(Held::undecided) || nothing_due || achieved.cut_short.has_value() ? Held::undecided
                                                                                       : Held::yes;
  v.text = sentence(v, achieved, nothing_due);
  return v;
}

}  // namespace overwinter
