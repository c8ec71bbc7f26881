#include "sim/netlist/requirements.hpp"

#include <doctest/doctest.h>

#include "models/catalogue.hpp"

using namespace overwinter;

namespace {

struct Read {
  explicit Read(const std::string& text, bool wakes = true) {
    Faults found;
    const auto d = Document::parse("a.yaml", "require: {" + text + "}\n", found);
    requirements = read_requirements(*d, d->root().entries[0].value, wakes, found);
    for (const Fault& f : found.all()) {
      faults.push_back(std::to_string(f.place.column) + " " + f.message +
                       (f.suggestion.empty() ? "" : " | " + f.suggestion));
    }
  }
  std::string fault() const { return faults.size() == 1 ? faults.front() : std::to_string(faults.size()) + " faults"; }

  Requirements requirements;
  std::vector<std::string> faults;
};

}  // namespace

TEST_CASE("every requirement in SI, in the order of the list") {
  const Read r(
      "thinnest_margin: {at_least: 50 mV}, lowest_charge: {at_least: 20 %}, longest_recovery: {at_most: 2 d},\n"
      " worst_week_wakes: {at_least: 300}, worst_day_wakes: {at_least: 20}, downtime: {at_most: 0.5 %},\n"
      " needs_human: {at_most: 0, sunny_days: 5}, damage: {at_most: 1}, brownouts: {at_most: 2}, longest_gap: "
      "{at_most: 24 h}");
  CHECK(r.faults.empty());
  const struct {
    const char* name;
    bool at_most;
    double limit;
  } expected[] = {{"longest_gap", true, 86400},
                  {"brownouts", true, 2},
                  {"damage", true, 1},
                  {"needs_human", true, 0},
                  {"downtime", true, 0.005},
                  {"worst_day_wakes", false, 20},
                  {"worst_week_wakes", false, 300},
                  {"longest_recovery", true, 172800},
                  {"lowest_charge", false, 0.2},
                  {"thinnest_margin", false, 0.05}};
  REQUIRE(r.requirements.all.size() == 10);
  for (std::size_t i = 0; i < 10; ++i) {
    const Requirement& got = r.requirements.all[i];
    CHECK(got.name == expected[i].name);
    CHECK(got.at_most == expected[i].at_most);
    CHECK(got.limit == doctest::Approx(expected[i].limit).epsilon(1e-15));
    CHECK(got.place.line > 0);
    CHECK_FALSE(got.by_default);
  }
  CHECK(r.requirements.all[0].unit.text == "h");
  CHECK(r.requirements.sunny_days == 5);
}

TEST_CASE("sunny days stay at three") {
  CHECK(Read("needs_human: {at_most: 1}").requirements.sunny_days == 3);
  CHECK(Read("brownouts: {at_most: 1}").requirements.sunny_days == 3);
  CHECK(Read("needs_human: {at_most: 1, sunny_days: 0}")
            .fault()
            .find("49 '0' is out of range: sunny_days must be from 1 to 366 | sunny_days: WHOLE NUMBER (") == 0);
  CHECK(Read("needs_human: {sunny_days: 2}").fault() ==
        "11 needs_human has no limit | needs_human: {at_most: WHOLE NUMBER}");
}

TEST_CASE("the wrong direction, both, or none") {
  CHECK(Read("longest_gap: {at_least: 24 h}").fault() ==
        "25 longest_gap is limited by at_most, not by at_least | longest_gap: {at_most: 24 h}");
  CHECK(Read("lowest_charge: {at_most: 20 %}").fault() ==
        "27 lowest_charge is limited by at_least, not by at_most | lowest_charge: {at_least: 20 %}");
  CHECK(Read("longest_gap: {at_most: 24 h, at_least: 1 h}").fault() ==
        "40 longest_gap is limited by at_most, not by at_least | remove at_least");
  CHECK(Read("longest_gap: {}").fault() == "11 longest_gap has no limit | longest_gap: {at_most: NUMBER h}");
  CHECK(Read("longest_gap: {at_most: ~}").fault() == "11 longest_gap has no limit | longest_gap: {at_most: NUMBER h}");
}

TEST_CASE("other faults of requirements") {
  CHECK(Read("longest_gab: {at_most: 24 h}").fault() == "11 there is no requirement 'longest_gab' | longest_gap");
  CHECK(Read("colour: {at_most: 24 h}").fault().find("11 there is no requirement 'colour' | one of longest_gap, ") ==
        0);
  CHECK(Read("longest_gap: 24 h").fault() ==
        "24 longest_gap must be a mapping with at_most, not '24 h' | longest_gap: {at_most: 24 h}");
  CHECK(Read("longest_gap:").fault() ==
        "11 longest_gap must be a mapping with at_most, not nothing | longest_gap: {at_most: NUMBER h}");
  CHECK(Read("longest_gap: {atmost: 24 h}").fault() == "25 longest_gap has no key 'atmost' | at_most");
  CHECK(Read("longest_gap: {at_most: 24}").fault() == "34 no unit after 24; at_most is given in h | 24 h");
  CHECK(Read("longest_gap: {at_most: 24 V}").fault() ==
        "37 'V' measures a voltage; at_most is given in h | a number in h");
  CHECK(Read("downtime: {at_most: 120 %}").fault() ==
        "31 '120 %' is out of range: at_most must be from 0 % to 100 % | at_most: NUMBER %");
  CHECK(Read("brownouts: {at_most: 1.5}").fault() ==
        "32 at_most must be a whole number, not '1.5' | at_most: WHOLE NUMBER");
  CHECK(Read("brownouts: {at_most: -1}").fault() == "32 '-1' is out of range: at_most must be at least 0 | 1");
  CHECK(Read("brownouts: {at_most: 0, sunny_days: 3}").fault().find("35 brownouts has no key 'sunny_days'") == 0);
}

TEST_CASE("where nothing wakes, what is about wakes cannot be required") {
  for (const RequirementKind& k : requirement_kinds()) {
    CAPTURE(k.name);
    const std::string limit = k.name + ": {" + k.fields.front().key + ": 0" +
                              (k.fields.front().unit.text == "1" ? "" : " " + k.fields.front().unit.text) + "}";
    CHECK(Read(limit).faults.empty());
    const bool of_cell = k.name == "damage" || k.name == "lowest_charge" || k.name == "thinnest_margin";
    CHECK(Read(limit, false).faults.empty() == of_cell);
    if (of_cell) continue;
    CHECK(Read(limit, false).fault() == "11 " + k.name +
                                            " is a matter of wakes, and no part can complete one | remove it, or add a "
                                            "part of model controller");
  }
}

TEST_CASE("what can complete a wake") {
  CHECK(has_event(*find_model("controller"), EventRole::wake_completed));
  CHECK_FALSE(has_event(*find_model("clock"), EventRole::wake_completed));
  CHECK(has_event(*find_model("clock"), EventRole::alarm_due));
  CHECK_FALSE(has_event(*find_model("load"), EventRole::wake_completed));
}

namespace {

using Names = std::vector<std::string>;

/// With the defaults; those of them in brackets.
Names completed(Requirements r, bool wakes, bool section) {
  add_defaults({wakes, section, nullptr, "a.yaml"}, r);
  Names names;
  for (const Requirement& one : r.all) names.push_back(one.by_default ? "(" + one.name + ")" : one.name);
  return names;
}

}  // namespace

TEST_CASE("no brown-out and no damage: wherever they are not named, also beside others") {
  const auto of = [](const std::string& text, bool wakes = true) {
    return completed(Read(text, wakes).requirements, wakes, true);
  };
  CHECK(of("longest_gap: {at_most: 24 h}") == Names{"longest_gap", "(brownouts)", "(damage)"});
  CHECK(of("lowest_charge: {at_least: 9 %}") == Names{"(brownouts)", "(damage)", "lowest_charge"});
  CHECK(of("brownouts: {at_most: 3}, needs_human: {at_most: 0}") == Names{"brownouts", "(damage)", "needs_human"});
  // To say how often these are meant asks for nothing: the minimum service stands.
  CHECK(of("damage: {at_most: 3}") == Names{"(longest_gap)", "(brownouts)", "damage", "(needs_human)"});
  CHECK(of("damage: {at_most: 3}, brownouts: {at_most: 5}") ==
        Names{"(longest_gap)", "brownouts", "damage", "(needs_human)"});
  // What does not wake cannot brown out.
  CHECK(of("lowest_charge: {at_least: 9 %}", false) == Names{"(damage)", "lowest_charge"});
}

TEST_CASE("without the section: the minimum service too, of what wakes") {
  CHECK(completed({}, true, false) == Names{"(longest_gap)", "(brownouts)", "(damage)", "(needs_human)"});
  CHECK(completed({}, false, false) == Names{"(damage)"});
  Requirements r;
  add_defaults({true, false, nullptr, "a.yaml"}, r);
  CHECK(r.all[0].limit == 25 * 3600);
  for (std::size_t i = 1; i < 4; ++i) CHECK(r.all[i].limit == 0);
  for (const Requirement& requirement : r.all) {
    CHECK(requirement.at_most);
    CHECK(requirement.place.file == "a.yaml");
  }
  CHECK(r.sunny_days == 3);
}

TEST_CASE("the minimum service allows the policy its longest interval") {
  const auto gap = [](std::vector<PolicyRow> rows) {
    PolicyParameters p;
    p.table = std::move(rows);
    std::vector<Finding> findings;
    const auto policy = Policy::build(p, findings);
    REQUIRE(static_cast<bool>(policy));
    Requirements r;
    add_defaults({true, false, policy.get(), "a.yaml"}, r);
    return r.all[0].limit;
  };
  const PolicyRow often{std::nullopt, Duration{1800.0}};
  CHECK(gap({often}) == 25 * 3600);
  CHECK(gap({{Voltage{3.5}, Duration{24 * 3600.0}}, often}) == 25 * 3600);
  CHECK(gap({{Voltage{3.5}, Duration{36 * 3600.0}}, often}) == 37 * 3600);
}
