#include "sim/ensemble/member_result.hpp"

#include <doctest/doctest.h>

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

const Json summary = Json::parse(R"({
  "verdict": {"survives": false, "typical_year": true},
  "requirements": [{"name": "longest_gap", "held": true}, {"name": "brownouts", "held": false},
                   {"name": "needs_human", "held": null}],
  "service": {"wakes_completed": 40, "longest_gap_s": 7200.5},
  "brownouts": {"count": 3, "needs_human": 1},
  "damage": {"count": 5},
  "cell": {"soc_min": 0.25, "soc_end": 0.5, "voltage_min_V": 3.1},
  "findings": ["one", "two"]})");

MemberResult with(void (*change)(MemberResult&)) {
  MemberResult r;
  r.survives = true;
  r.soc_min = 0.5;
  r.longest_gap_s = 7210;
  r.brownouts = r.needs_human = 0;
  change(r);
  return r;
}

}  // namespace

TEST_CASE("a member's numbers are its summary's") {
  const Member member{"seed-7", {}, 7, {}};
  const MemberResult r = result_of(member, {{2024, 10, 1}, {2024, 10, 2}}, summary);
  CHECK(r.member == &member);
  CHECK(r.survives == false);
  CHECK(r.typical_year);
  CHECK(r.failed == std::vector<std::string>{"brownouts"});
  CHECK(r.undecided == std::vector<std::string>{"needs_human"});
  CHECK(r.wakes_completed == 40);
  CHECK(r.longest_gap_s == 7200.5);
  CHECK(r.brownouts == 3);
  CHECK(r.needs_human == 1);
  CHECK(r.damage == 5);
  CHECK(r.soc_min == 0.25);
  CHECK(r.soc_end == 0.5);
  CHECK(r.voltage_min_V == 3.1);
  CHECK(r.findings == 2);
  CHECK(verdict_word(r) == "FAILED");
}

TEST_CASE("a member that never wakes") {
  Json plain = summary;
  for (const char* key : {"service", "brownouts"}) plain.erase(key);
  const MemberResult r = result_of({}, {}, plain);
  CHECK(!r.wakes_completed);
  CHECK(!r.longest_gap_s);
  CHECK(r.damage == 5);
  CHECK(verdict_word(r) == "FAILED");
}

TEST_CASE("the worst comes first") {
  const MemberResult ranked[] = {
      with([](MemberResult& r) { r.error = "no operating point"; }),
      with([](MemberResult& r) { r.survives = false; }),
      with([](MemberResult& r) { r.survives.reset(); }),
      with([](MemberResult& r) { r.needs_human = 1; }),
      with([](MemberResult& r) { r.damage = 1; }),
      with([](MemberResult& r) { r.brownouts = 9; }),
      with([](MemberResult& r) { r.brownouts = 1; }),
      with([](MemberResult& r) { r.longest_gap_s = 9000; }),
      with([](MemberResult& r) { r.soc_min = 0.1; }),
      with([](MemberResult& r) { r.longest_gap_s = 7230; }),  // the same minute: the charge decides
  };
  for (std::size_t i = 0; i + 2 < std::size(ranked); ++i) {
    CAPTURE(i);
    CHECK(worse(ranked[i], ranked[i + 1]));
    CHECK_FALSE(worse(ranked[i + 1], ranked[i]));
  }
  CHECK(worse(ranked[8], ranked[9]));
  CHECK_FALSE(worse(ranked[9], with([](MemberResult&) {})));
}
