#include "sim/service/verdict.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <stdexcept>

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second, hour = 3600 * second;

/// A requirement as the reader makes it. The limit is SI.
Requirement required(const std::string& name, double limit) {
  for (const RequirementKind& k : requirement_kinds()) {
    if (k.name == name) return {k.name, k.at_most, limit, k.fields.front().unit, {}, false};
  }
  throw std::logic_error("no requirement " + name);
}

BrownOut brownout(Outcome outcome, Tick lasts, bool recovered) {
  BrownOut b;
  b.begin = 100 * hour;
  b.end = b.begin + lasts;
  b.chain = {{b.begin, "logger", "brown-out"}};
  b.outcome = outcome;
  if (recovered) b.recovered = b.end;
  return b;
}

/// What judges a single requirement.
struct Case {
  Case() {
    service.due = 240;
    service.completed = 200;
  }
  ServiceRecord service;
  bool crossed = false;
  Tick span = 10 * ticks_per_day;
  double lowest_charge = 1;
  std::optional<double> margin;
  std::vector<Damage> damages;
  std::optional<CutShort> cut_short;

  Verdict judged(const std::vector<Requirement>& requirements) const {
    ThinnestMargin thinnest;
    thinnest.value = margin.value_or(0);
    thinnest.crossed = crossed;
    return judge(requirements, {&service, span, lowest_charge, margin ? &thinnest : nullptr, damages, cut_short});
  }
  Held held(const std::string& name, double limit) const {
    const std::vector<Requirement> one = {required(name, limit)};
    const Verdict v = judged(one);
    CHECK(v.results.size() == 1);
    CHECK(v.survives == v.results.front().held);
    return v.results.front().held;
  }
  std::optional<double> value(const std::string& name) const {
    const std::vector<Requirement> one = {required(name, 0)};
    return judged(one).results.front().value;
  }
};

}  // namespace

TEST_CASE("verdict: longest gap") {
  Case c;
  c.service.longest_gap = {0, 24 * hour, false};
  CHECK(c.value("longest_gap") == 86400.0);
  CHECK(c.held("longest_gap", 86400) == Held::yes);
  CHECK(c.held("longest_gap", 86399) == Held::no);
  // The span's end counts as an end: an open gap is judged by its length.
  c.service.longest_gap.open = true;
  CHECK(c.held("longest_gap", 86400) == Held::yes);
  CHECK(c.held("longest_gap", 86399) == Held::no);
}

TEST_CASE("verdict: without any completed wake a gap that is no longer than allowed may become so") {
  Case c;
  c.span = ticks_per_day;
  c.service.due = 1;
  c.service.completed = 0;
  c.service.longest_gap = {0, c.span, true};
  const std::vector<Requirement> day_and_half = {required("longest_gap", 36 * 3600.0)};
  const Verdict v = c.judged(day_and_half);
  CHECK(v.results.front().held == Held::undecided);
  CHECK(v.results.front().value_text == "24 h so far");
  CHECK(v.text == "Undecided at the end of the span: longest gap (24 h so far).");
  CHECK(c.held("longest_gap", 86400) == Held::undecided);
  CHECK(c.held("longest_gap", 86399) == Held::no);
  c.service.completed = 1;
  CHECK(c.held("longest_gap", 86400) == Held::yes);
  // Nor where the instrument is dead when the span ends.
  c.service.brownouts = {brownout(Outcome::undecided, hour, false)};
  CHECK(c.held("longest_gap", 86400) == Held::undecided);
  c.service.brownouts = {brownout(Outcome::recovered, hour, true)};
  CHECK(c.held("longest_gap", 86400) == Held::yes);
}

TEST_CASE("verdict: a value and its limit are told in one unit, with as many digits as tell them apart") {
  Case c;
  const auto text = [&](const std::string& name, double limit) {
    const std::vector<Requirement> one = {required(name, limit)};
    const RequirementResult r = c.judged(one).results.front();
    return r.value_text + " / " + r.limit_text;
  };
  c.service.longest_gap = {0, 7 * ticks_per_day, false};
  CHECK(text("longest_gap", 25 * 3600.0) == "168 h / 25 h");
  CHECK(text("longest_gap", 0) == "7 d / 0 d");
  c.service.longest_gap = {0, 3 * ticks_per_day + second / 1000, false};
  CHECK(text("longest_gap", 3 * 86400.0) == "3.00000001 d / 3 d");
  c.lowest_charge = -0.0;
  CHECK(text("lowest_charge", 0.1) == "0 % / 10 %");
}

TEST_CASE("verdict: brown-outs") {
  Case c;
  CHECK(c.held("brownouts", 0) == Held::yes);
  c.service.brownouts = {brownout(Outcome::recovered, hour, true), brownout(Outcome::undecided, hour, false)};
  CHECK(c.value("brownouts") == 2.0);
  CHECK(c.held("brownouts", 2) == Held::yes);
  CHECK(c.held("brownouts", 1) == Held::no);
}

TEST_CASE("verdict: damage, with its parts and numbers in the sentence") {
  static const AbsoluteLimit high{"too high", "above its {} supply limit", "", false, 0, unit_of<Voltage>("V"), {}, {}};
  static const AbsoluteLimit empty{"below empty", "below empty", "", true, 0, unit_of<double>("%"), {}, {}};
  Case c;
  CHECK(c.held("damage", 0) == Held::yes);
  c.damages.push_back({"cell", &empty, 1, hour, 2 * hour, 3600, -0.032, 2 * hour, 0});
  c.damages.push_back({"logger", &high, 728, hour, 2 * hour, 3600, 4.178, 2 * hour, 3.6});
  CHECK(c.value("damage") == 729.0);
  CHECK(c.held("damage", 729) == Held::yes);
  CHECK(c.held("damage", 728) == Held::no);
  CHECK(c.judged({required("damage", 0)}).text ==
        "The instrument does not survive: damage: logger above its 3.6 V supply limit 728 times, up to 4.18 V, and "
        "cell below empty once, down to -3.2 %, at most 0 allowed.");
}

TEST_CASE("verdict: where nothing wakes and nothing is required, only that nothing was damaged") {
  Requirement damage = required("damage", 0);
  damage.by_default = true;
  const Verdict v = judge({damage}, {nullptr, ticks_per_day, 0.5, nullptr});
  CHECK(v.survives == Held::yes);
  CHECK(v.text == "Nothing was damaged; nothing else is required, for no part can complete a wake.");
}

TEST_CASE("verdict: needs human") {
  Case c;
  CHECK(c.held("needs_human", 0) == Held::yes);
  c.service.brownouts = {brownout(Outcome::recovered, hour, true)};
  CHECK(c.held("needs_human", 0) == Held::yes);
  c.service.brownouts.push_back(brownout(Outcome::undecided, hour, false));
  CHECK(c.value("needs_human") == 0.0);
  CHECK(c.held("needs_human", 0) == Held::undecided);
  c.service.brownouts.push_back(brownout(Outcome::needs_human, 100 * hour, true));
  CHECK(c.value("needs_human") == 1.0);
  CHECK(c.held("needs_human", 0) == Held::no);
  CHECK(c.held("needs_human", 1) == Held::undecided);
}

TEST_CASE("verdict: downtime is a share of the span") {
  Case c;
  c.service.downtime = 6 * hour;
  CHECK(c.value("downtime") == doctest::Approx(6.0 / 240).epsilon(1e-15));
  CHECK(c.held("downtime", 0.025) == Held::yes);
  CHECK(c.held("downtime", 0.0249) == Held::no);
}

TEST_CASE("verdict: worst day and week") {
  for (const std::string name : {"worst_day_wakes", "worst_week_wakes"}) {
    CAPTURE(name);
    Case c;
    auto& count = name == "worst_day_wakes" ? c.service.worst_day_wakes : c.service.worst_week_wakes;
    CHECK(c.held(name, 1) == Held::undecided);  // the span is shorter
    CHECK_FALSE(c.value(name));
    count = 4;
    CHECK(c.value(name) == 4.0);
    CHECK(c.held(name, 4) == Held::yes);
    CHECK(c.held(name, 5) == Held::no);
  }
}

TEST_CASE("verdict: longest recovery") {
  Case c;
  CHECK(c.value("longest_recovery") == 0.0);
  CHECK(c.held("longest_recovery", 0) == Held::yes);
  c.service.brownouts = {brownout(Outcome::recovered, 5 * hour, true), brownout(Outcome::needs_human, 9 * hour, true)};
  CHECK(c.value("longest_recovery") == 9.0 * 3600);
  CHECK(c.held("longest_recovery", 9 * 3600.0) == Held::yes);
  CHECK(c.held("longest_recovery", 9 * 3600.0 - 1) == Held::no);
  // One that goes on at the span's end has lasted this long already and may last longer.
  c.service.brownouts.push_back(brownout(Outcome::undecided, 7 * hour, false));
  CHECK(c.held("longest_recovery", 9 * 3600.0) == Held::undecided);
  c.service.brownouts.back() = brownout(Outcome::undecided, 10 * hour, false);
  CHECK(c.held("longest_recovery", 9 * 3600.0) == Held::no);
}

TEST_CASE("verdict: lowest charge") {
  Case c;
  c.lowest_charge = 0.2;
  CHECK(c.value("lowest_charge") == 0.2);
  CHECK(c.held("lowest_charge", 0.2) == Held::yes);
  CHECK(c.held("lowest_charge", 0.21) == Held::no);
}

TEST_CASE("verdict: thinnest margin") {
  Case c;
  CHECK(c.held("thinnest_margin", 0.1) == Held::undecided);  // no threshold was ever in force
  CHECK_FALSE(c.value("thinnest_margin"));
  c.margin = 0.1;
  CHECK(c.value("thinnest_margin") == 0.1);
  CHECK(c.held("thinnest_margin", 0.1) == Held::yes);
  CHECK(c.held("thinnest_margin", 0.11) == Held::no);
  // Of an instrument that never served the margins that count were never looked at.
  c.service.due = 3;
  c.service.completed = 0;
  CHECK(c.held("thinnest_margin", 0.1) == Held::undecided);
  c.service.completed = 1;
  CHECK(c.held("thinnest_margin", 0.1) == Held::yes);
  c.margin = -0.02;
  CHECK(c.held("thinnest_margin", 0) == Held::no);
  c.margin = 0;
  CHECK(c.held("thinnest_margin", 0) == Held::yes);
  c.crossed = true;
  CHECK(c.held("thinnest_margin", 0) == Held::no);
  CHECK(c.judged({required("thinnest_margin", 0)}).text ==
        "The instrument does not survive: thinnest margin none (threshold crossed), at least 0 mV required.");
}

TEST_CASE("verdict: every kind of requirement has a meaning, an unknown one is refused") {
  const Case c;
  for (const RequirementKind& k : requirement_kinds()) {
    CAPTURE(k.name);
    CHECK_NOTHROW(c.held(k.name, 1));
  }
  Requirement unknown = required("brownouts", 0);
  unknown.name = "brownsouts";
  CHECK_THROWS_AS(c.judged({unknown}), std::logic_error);
}

TEST_CASE("verdict: daily wakes that drift past midnight, and longer sleeps, are minimum service") {
  for (const double interval : {24.0, 36.0}) {
    CAPTURE(interval);
    PolicyParameters p;
    p.every = Duration{interval * 3600};
    std::vector<Finding> findings;
    const auto policy = Policy::build(p, findings);
    REQUIRE(static_cast<bool>(policy));
    Requirements defaults;
    add_defaults({true, false, policy.get(), "a.yaml"}, defaults);
    const std::vector<Requirement> asked = defaults.all;
    Case c;
    c.service.worst_day_wakes = 0;  // a calendar day without one
    c.service.longest_gap = {0, static_cast<Tick>(interval) * hour + 85 * second, false};
    CHECK(c.judged(asked).survives == Held::yes);
    c.service.longest_gap.end += hour;
    CHECK(c.judged(asked).survives == Held::no);
  }
}

TEST_CASE("verdict: one failed requirement fails the run, else one undecided leaves it undecided") {
  Case c;
  c.service.worst_day_wakes = 3;
  const Requirement holds = required("worst_day_wakes", 1), fails = required("worst_day_wakes", 4),
                    open = required("worst_week_wakes", 1);
  const auto survives = [&](const std::vector<Requirement>& all) { return c.judged(all).survives; };
  CHECK(survives({}) == Held::yes);
  CHECK(survives({holds, holds}) == Held::yes);
  CHECK(survives({holds, open}) == Held::undecided);
  CHECK(survives({open, fails, holds}) == Held::no);
}

TEST_CASE("verdict: where no alarm came due nothing survives; a failure stays one") {
  Case c;
  c.service.due = 0;
  c.service.longest_gap = {0, 30 * hour, true};
  const Requirement quiet = required("brownouts", 0), full = required("lowest_charge", 0.2),
                    frequent = required("longest_gap", 86400), open = required("worst_week_wakes", 1);
  for (const std::vector<Requirement>& all : {std::vector{quiet}, {full}, {quiet, full}, {quiet, open}, {}}) {
    const Verdict v = c.judged(all);
    CHECK(v.survives == Held::undecided);
    CHECK(v.text == "Undecided: no alarm came due in the span in time to be answered.");
  }
  CHECK(c.judged({quiet, frequent}).survives == Held::no);
  CHECK(c.judged({quiet, frequent}).text == "The instrument does not survive: longest gap 30 h, at most 24 h allowed.");
  // Where nothing wakes, nothing need come due.
  CHECK(judge({full}, {nullptr, ticks_per_day, 0.5, nullptr}).survives == Held::yes);
  CHECK_THROWS_AS(judge({quiet}, {nullptr, ticks_per_day, 0.5, nullptr}), std::logic_error);
}

TEST_CASE("verdict: results stand in the order of the requirements and point at them") {
  Case c;
  const std::vector<Requirement> all = {required("brownouts", 0), required("longest_gap", 1), required("downtime", 1)};
  const Verdict v = c.judged(all);
  REQUIRE(v.results.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) CHECK(v.results[i].requirement == &all[i]);
}

TEST_CASE("verdict: the sentence") {
  Case c;
  c.service.worst_day_wakes = 0;
  c.service.longest_gap = {0, 38 * hour + 1800 * second, false};
  const std::string open = "Undecided at the end of the span: need of a human (0 so far), worst week.";
  CHECK(c.judged({required("brownouts", 0)}).text == "The instrument survives: every requirement held.");
  CHECK(
      c.judged({required("longest_gap", 86400), required("brownouts", 0), required("worst_day_wakes", 1)}).text ==
      "The instrument does not survive: longest gap 38.5 h, at most 24 h allowed; 0 completed wakes on the worst day, "
      "at least 1 required.");
  c.service.longest_gap.end = 61 * ticks_per_day + 21 * hour + 8 * 60 * second;
  CHECK(c.judged({required("longest_gap", 3 * 86400)}).text ==
        "The instrument does not survive: longest gap 61.9 d, at most 3 d allowed.");
  c.service.longest_gap.end = 24 * hour + second;  // what three digits do not tell
  CHECK(c.judged({required("longest_gap", 86400)}).text ==
        "The instrument does not survive: longest gap 24.0003 h, at most 24 h allowed.");
  c.service.longest_gap.end = 24 * hour;
  c.service.brownouts = {brownout(Outcome::undecided, hour, false)};
  CHECK(c.judged({required("needs_human", 0), required("worst_week_wakes", 1), required("brownouts", 1)}).text == open);
  // What has failed is said, what is open then matters no more.
  CHECK(c.judged({required("needs_human", 0), required("lowest_charge", 1.0), required("brownouts", 0)}).text ==
        "The instrument does not survive: 1 brown-out, at most 0 allowed.");
  for (const RequirementKind& k : requirement_kinds()) {
    CAPTURE(k.name);
    CHECK_NOTHROW(c.judged({required(k.name, k.at_most ? -1.0 : 1e9)}));  // each kind has its words
  }
}

TEST_CASE("cut short nothing has held, and only what nothing can mend has failed") {
  Case c;
  c.span = 5 * ticks_per_day;
  c.cut_short = CutShort{500 * ticks_per_day, 20 * ticks_per_day};
  c.margin = 0.1;
  c.service.worst_day_wakes = 3;
  c.service.downtime = ticks_per_day;  // 20 % of what was simulated, 5 % of the span
  c.service.longest_gap = {0, 30 * hour, true};
  for (const auto& [name, met] : std::vector<std::pair<std::string, double>>{{"brownouts", 0},
                                                                             {"damage", 0},
                                                                             {"needs_human", 0},
                                                                             {"lowest_charge", 0.5},
                                                                             {"thinnest_margin", 0.05},
                                                                             {"worst_day_wakes", 3},
                                                                             {"downtime", 0.1},
                                                                             {"longest_gap", 30.0 * 3600}}) {
    CAPTURE(name);
    CHECK(c.held(name, met) == Held::undecided);
  }
  for (const auto& [name, not_met] : std::vector<std::pair<std::string, double>>{
           {"thinnest_margin", 0.2}, {"worst_day_wakes", 4}, {"downtime", 0.04}, {"longest_gap", 29.0 * 3600}}) {
    CAPTURE(name);
    CHECK(c.held(name, not_met) == Held::no);
  }
  CHECK(c.value("downtime") == doctest::Approx(0.2));
  const std::vector<Requirement> gap = {required("longest_gap", 36.0 * 3600)};
  CHECK(c.judged(gap).text ==
        "Undecided: the run was cut short at " + iso_time(c.cut_short->at) + ", with longest gap (30 h so far).");
  c.service.brownouts = {brownout(Outcome::recovered, hour, true)};
  CHECK(c.held("brownouts", 0) == Held::no);
  const std::vector<Requirement> none = {required("brownouts", 0)};
  CHECK(c.judged(none).text ==
        "The instrument does not survive: 1 brown-out, at most 0 allowed; the run was cut short at " +
            iso_time(c.cut_short->at) + ".");
  CHECK(c.judged({}).survives == Held::undecided);
}
