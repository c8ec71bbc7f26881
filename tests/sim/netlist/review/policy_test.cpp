#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

/// The findings about an instrument that has none of its own, with these edits.
All findings(const test::Edits& edits) { return test::texts(review_policy, edits); }

/// The findings about this policy in place of the instrument's own.
All of(const std::string& policy) {
  return findings(
      {{"  table:\n    - {below: 3.65 V, every: 24 h}\n    - {below: 3.80 V, every: 12 h}\n    - {below: 3.95 V, "
        "every: 6 h}\n    - {every: 2 h}\n  hysteresis: 60 mV\n",
        "  " + policy + "\n"}});
}

}  // namespace

TEST_CASE("policies as they should be") {
  CHECK(findings({}).empty());
  CHECK(of("every: 2 h").empty());
}

TEST_CASE("an emptier cell that wakes more often") {
  CHECK(of("table: [{below: 3.65 V, every: 2 h}, {below: 3.8 V, every: 2 h}, {every: 1 d}]") ==
        All{"the policy wakes more often on an emptier cell: every 2 h below 3.8 V, every 24 h from 3.8 V up"});
  CHECK(of("table: [{below: 3.65 V, every: 2 h}, {below: 3.8 V, every: 6 h}, {every: 6 h}]") ==
        All{"the policy wakes more often on an emptier cell: every 2 h below 3.65 V, every 6 h below 3.8 V"});
}

TEST_CASE("hysteresis wider than the narrowest row") {
  const std::string rows =
      "table: [{below: 3.5 V, every: 9 h}, {below: 3.7 V, every: 6 h}, {below: 3.8 V, every: 3 h}, {every: 1 h}]";
  CHECK(of(rows + "\n  hysteresis: 100 mV").empty());
  CHECK(of(rows + "\n  hysteresis: 120 mV") ==
        All{"the policy's hysteresis of 0.12 V is wider than the 0.1 V between its rows below 3.7 V and below 3.8 V: a "
            "recovering cell stays in the lower of them up to 3.82 V"});
}

TEST_CASE("rows that the cell's voltage never leaves, or never reaches") {
  CHECK(of("table: [{below: 99 V, every: 9 h}, {every: 1 h}]") ==
        All{"the policy's rows above 99 V never hold: cell is full at 4.2 V"});
  CHECK(of("table: [{below: 2.8 V, every: 9 h}, {every: 1 h}]") ==
        All{"the policy's row below 2.8 V never holds: guard cuts cell off at 2.8 V"});
  CHECK(of("table: [{below: 2.9 V, every: 9 h}, {every: 1 h}]").empty());
  CHECK(of("table: [{below: 4.1 V, every: 9 h}, {every: 1 h}]\n  hysteresis: 0.1 V") ==
        All{"once below 4.1 V, the policy stays every 9 h for ever: with the hysteresis it leaves that row from 4.2 V "
            "up, and "
            "cell is full at 4.2 V"});
}

TEST_CASE("a monitor on another voltage than the cell's is not compared with it") {
  const std::pair<std::string, std::string> rail[] = {
      {"rail: [boost.out,", "rail: [boost.out, monitor.in, monitor.out,"},
      {"monitor.in, clock", "boost.in, clock"},
      {"  feed: [monitor.out, boost.in]\n", ""}};
  CHECK(findings({rail[0], rail[1], rail[2], {"below: 3.95 V", "below: 4.9 V"}}).empty());
}

TEST_CASE("an interval shorter than the wake before it") {
  CHECK(of("every: 85 s") ==
        All{"the policy's interval of 85 s is shorter than the wake before it (boot 0.5 s + measure 5 s + store 0.2 s "
            "+ send "
            "80 s = 85.7 s): the instrument is awake most of the time, as the interval counts from the wake's end"});
  CHECK(of("every: 86 s").empty());
  // Counted from the wake's begin it is a matter of the alarm.
  CHECK(findings({{"    - {every: 2 h}", "    - {every: 85 s}"},
                  {"    part: controller-8bit-5v\n", "    part: controller-8bit-5v\n    counts_from: wake\n"}})
            .empty());
}
