#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

/// About the better peat-bog logger (longest_gap 36 h, a wake of 85.7 s) with this policy and these keys.
All findings(const std::string& policy, const std::string& clock, const std::string& controller = "") {
  return test::sentences(
      review_alarms,
      {{"  table:\n    - {below: 3.65 V, every: 24 h}\n    - {below: 3.80 V, every: 12 h}\n    - {below: 3.95 V, "
        "every: 6 h}\n    - {every: 2 h}\n  hysteresis: 60 mV\n",
        "  " + policy + "\n"},
       {"first_alarm: 2 h", "first_alarm: 2 h" + clock},
       {"    part: controller-8bit-5v\n", "    part: controller-8bit-5v\n" + controller}});
}

const std::string from_wake = "    counts_from: wake\n",
                  from_reading = "    counts_from: reading\n    reads_in: send\n";
const std::string seldom = "every: 24 h";

}  // namespace

TEST_CASE("alarms as they should be") {
  CHECK(findings(seldom, "").empty());
  CHECK(findings(seldom, ", alarm_match: hours").empty());
  CHECK(findings(seldom, ", alarm_match: hours", from_wake).empty());
  CHECK(findings("every: 30 min", ", alarm_match: minutes", from_reading).empty());
  CHECK(test::texts(review_alarms, {}, "peat-bog.yaml").empty());
}

TEST_CASE("an alarm that is past when it is set") {
  CHECK(findings("every: 80 s", ", alarm_match: minutes", from_wake) ==
        All{"the policy's interval of 80 s counts from the wake's begin, but logger sets the alarm 85.702 s later: it "
            "is 5.702 s past, and comes when it matches again, 1 h later (alarm_match: minutes); try: an interval well "
            "above 85.702 s, or counts_from: write"});
  CHECK(
      findings("every: 80 s", ", alarm_match: minutes", from_reading) ==
      All{"the policy's interval of 80 s counts from the reading, but logger sets the alarm 80 s later: it is 0 s "
          "past, and comes when it matches again, 1 h later (alarm_match: minutes); try: an interval well above 80 s, "
          "or counts_from: write"});
  CHECK(findings("every: 81 s", ", alarm_match: minutes", from_reading).empty());
  CHECK(findings("every: 86 s", ", alarm_match: minutes", from_wake).empty());
  CHECK(findings("every: 80 s", ", alarm_match: minutes").empty());
  CHECK(findings("every: 80 s", "", from_wake).front().find("and never comes (alarm_match: year)") !=
        std::string::npos);
}

TEST_CASE("an interval that the compared registers do not tell apart") {
  CHECK(findings(seldom, ", alarm_match: minutes") ==
        All{"the policy's interval of 24 h is longer than the 1 h after which clock's alarm matches again "
            "(alarm_match: minutes): it comes after 1 h already; try: alarm_match: hours"});
  CHECK(findings("every: 30 h", ", alarm_match: hours") ==
        All{"the policy's interval of 30 h is longer than the 24 h after which clock's alarm matches again "
            "(alarm_match: hours): it comes after 6 h already; try: alarm_match: weekday"});
  CHECK(findings("every: 30 h", ", alarm_match: hours", from_wake).front().find("after 6 h already") !=
        std::string::npos);
}

TEST_CASE("an alarm that costs more silence than is allowed where it is missed") {
  CHECK(findings(seldom, ", alarm_match: date") ==
        All{"clock: an alarm that is missed comes up to 61 d later (alarm_match: date), but longest_gap allows 36 h; "
            "try: alarm_match: hours"});
  CHECK(findings("every: 30 min", "", from_wake) ==
        All{"clock: an alarm that is missed never comes (alarm_match: year), but longest_gap allows 36 h; try: "
            "alarm_match: minutes"});
  // A week is the finest that tells 30 h apart.
  CHECK(
      findings("every: 30 h", ", alarm_match: weekday") ==
      All{"clock: an alarm that is missed comes 168 h later (alarm_match: weekday), but longest_gap allows 36 h; try: "
          "shorter intervals, and the alarm_match that goes with them"});
}
