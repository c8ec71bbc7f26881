// What people read when they ask `revive` for what cannot be, to the letter.
#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <string>

#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

const std::string scenarios = std::string(OVERWINTER_SOURCE) + "/scenarios/";

/// Refused, and nothing written.
std::string answer(const std::string& options, const std::string& file = scenarios + "peat-bog.yaml") {
  const test::Scratch scratch;
  const test::Said said =
      test::overwinter_says("revive " + file + " " + options + " --out " + scratch.path("revived"), scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK_FALSE(std::filesystem::exists(scratch.path("revived")));
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("revive: days that are none, and too many of them") {
  CHECK(answer("--date 2025-13-01") == R"(
--date '2025-13-01': 2025-13-01 does not exist: a year has the months 01 to 12
  try: --date 2025-01-15
)");
  CHECK(answer("--date soon") == R"(
--date 'soon': --date must be a day written YYYY-MM-DD, not 'soon'
  try: --date 2025-01-15
)");
  CHECK(answer("--date ''") == R"(
--date: the value is empty
  try: --date 2025-01-15
)");
  for (const std::string days : {"0", "61", "many", "1.5"}) {
    CHECK(answer("--days " + days) == "\n--days '" + days +
                                          "': the number of days must be from 1 to 60\n"
                                          "  try: --days 5\n");
  }
}

TEST_CASE("revive: what is supposed must be a dimension of this instrument and one of its values") {
  CHECK(answer("--suppose moon=full") == R"(
--suppose 'moon=full': this instrument's dead states have no 'moon'
  try: one of dawn, charge, charger charge, clock alarm, clock coin cell, guard discharge, logger mode, logger supply
)");
  CHECK(answer("--suppose 'clock alrm=lost'") == R"(
--suppose 'clock alrm=lost': this instrument's dead states have no 'clock alrm'
  try: clock alarm
)");
  CHECK(answer("--suppose dawn=red") == R"(
--suppose 'dawn=red': dawn is never 'red'
  try: dawn=VALUE with one of clear, overcast, cold
)");
  CHECK(answer("--suppose dawn") == R"(
--suppose 'dawn': the value is missing
  try: dawn=VALUE with one of clear, overcast, cold
)");
  CHECK(answer("--suppose ''") == R"(
--suppose: the value is empty
  try: --suppose dawn=clear
)");
  // Each can be, but not both.
  CHECK(answer("--suppose 'clock alarm=lost' --suppose 'clock coin cell=good'") == R"(
--suppose: no state is left: clock: it keeps its alarm as long as the coin cell is good
  try: fewer or other values
)");
  // "warm" is a dawn of the fine grid only.
  CHECK(answer("--suppose dawn=warm") == R"(
--suppose 'dawn=warm': dawn is never 'warm'
  try: dawn=VALUE with one of clear, overcast, cold
)");
}

TEST_CASE("revive: scenarios in which nothing can come back") {
  CHECK(answer("", "no/such.yaml") == R"(
no/such.yaml: the scenario file does not exist
  try: give the path of a scenario, a YAML file such as scenarios/peat-bog.yaml
)");
  const std::string asleep = scenarios + "mechanisms/charger-deadlock.yaml";
  CHECK(answer("", asleep) == "\n" + asleep +
                                  ": no part of it completes a wake, so that there is nothing to come back\n"
                                  "  try: a controller with phases, as in scenarios/peat-bog.yaml\n");
  CHECK(answer("--date 2024-12-21 --set 'site.latitude=75 deg'") == R"(
--date 2024-12-21: the sun stays down all day at this site
  try: --date 2025-02-08
)");
}

TEST_CASE("revive: a folder without a name, and one that holds something else") {
  const test::Scratch scratch;
  const test::Said nameless =
      test::overwinter_says("revive " + scenarios + "outcomes/needs-human.yaml --out ''", scratch);
  CHECK(nameless.code == 2);
  CHECK(nameless.out.empty());
  CHECK(nameless.err == "--out: the name of the folder for the results is empty\n  try: --out FOLDER\n");

  std::filesystem::create_directory(scratch.path("photos"));
  scratch.write("photos/bog.txt", "mine");
  const test::Said taken = test::overwinter_says(
      "revive " + scenarios + "outcomes/needs-human.yaml --out " + scratch.path("photos"), scratch);
  CHECK(taken.code == 2);
  CHECK(taken.out.empty());
  CHECK(taken.err.find("try: ") != std::string::npos);
  CHECK(scratch.read("photos/bog.txt") == "mine");
}

TEST_CASE("revive: the text of a small grid, its exit codes and its files") {
  const test::Scratch scratch;
  const std::string asked = "revive " + scenarios + "outcomes/needs-human.yaml --date 2024-10-03 --jobs 1 --out " +
                            scratch.path("out") +
                            " --suppose dawn=clear --suppose 'charge=40 %' --suppose 'clock coin cell=good' ";
  const test::Said back =
      test::overwinter_says(asked + "--suppose 'clock alarm=flag set' --suppose 'guard discharge=closed'", scratch);
  CHECK(back.code == 0);
  CHECK(back.err.empty());
  CHECK(back.says("Verdict  1 of 1 state comes back by itself\n"));
  CHECK_FALSE(back.says("Traps"));
  const test::Said trap =
      test::overwinter_says(asked + "--suppose 'clock alarm=flag set' --suppose 'guard discharge=tripped'", scratch);
  CHECK(trap.code == 1);
  CHECK(trap.says("\n1 dead state before dawn on 2024-10-03, in "));
  CHECK(trap.says("Verdict  0 of 1 state comes back by itself; 1 is a trap\n"));
  CHECK(trap.says("  protector-waits  1 state: the protector keeps a cell with charge in it cut off"));
  CHECK(trap.says("    where          always (1)\n"));
  const std::string csv = scratch.read("out/revive.csv");
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 2);
  const test::Said empty =
      test::overwinter_says("revive " + scenarios + "mechanisms/inrush.yaml --jobs 1 --out " + scratch.path("out") +
                                " --suppose dawn=clear --suppose 'charge=0.5 %' --suppose 'clock alarm=pending'",
                            scratch);
  CHECK(empty.code == 1);
  CHECK(empty.says("; 2 need a new cell\n"));
  CHECK(empty.says("\nCell to be replaced\n\n  replace-cell     2 states: the cell has been below empty"));
  const test::Said json = test::overwinter_says(
      asked + "--json --suppose 'clock alarm=flag set' --suppose 'guard discharge=tripped'", scratch);
  CHECK(json.code == 1);
  CHECK(json.out.front() == '{');
  CHECK(json.says("\"verdict\": \"trap\""));
}
