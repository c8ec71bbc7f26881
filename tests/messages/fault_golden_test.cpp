// What people read when a fault that they want to try is wrong, to the letter.
#include <doctest/doctest.h>

#include <string>

#include "tests/support/bench_scenario.hpp"
#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

std::string fault_with(const std::string& entry) { return test::fault({{"nets:", "faults: [" + entry + "]\nnets:"}}); }

/// What `run` says to an option --fault.
std::string answer(const std::string& sentence) {
  const test::Scratch scratch;
  const test::Said said =
      test::overwinter_says("run " + std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml --out " +
                                scratch.path("out") + " --fault '" + sentence + "'",
                            scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK(!std::filesystem::exists(scratch.path("out")));
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("the fault itself is accepted") { CHECK(fault_with("{part: drain, fault: open, at: 2024-10-16 06:00}").empty()); }

TEST_CASE("a kind that does not fit the part's model") {
  CHECK(fault_with("{part: drain, fault: soiled, by: 60 %}") == R"()");
}
TEST_CASE("a kind that is misspelled, or unknown") {
  CHECK(fault_with("{part: drain, fault: opne}") == R"()");
  CHECK(fault_with("{part: drain, fault: rusty}") == R"()");
}
TEST_CASE("a part that is misspelled, missing, or not wanted") {
  CHECK(fault_with("{part: drian, fault: open}") == R"()");
  CHECK(fault_with("{fault: open}") == R"()");
  CHECK(fault_with("{part: drain, fault: cold-snap, by: 10 K}") == R"()");
}
TEST_CASE("no kind") {
  CHECK(fault_with("{part: drain}") == R"()");
  CHECK(fault_with("{part: drain, flaut: open}") == R"()");
}
TEST_CASE("a value that is missing, too large or unknown") {
  CHECK(fault_with("{fault: cold-snap}") == R"()");
  CHECK(fault_with("{part: cell, fault: aged, by: 130 %}") == R"()");
  CHECK(fault_with("{part: cell, fault: aged}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, by: 10 %}") == R"()");
}
TEST_CASE("a time that cannot be read, has an offset or is outside of the span") {
  CHECK(fault_with("{part: drain, fault: open, at: yesterday}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, at: 2024-02-30 06:00}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, at: 2024-10-16 06:00+01:00}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, at: 2025-10-16 06:00}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, for: 0 d}") == R"()");
  CHECK(fault_with("{part: drain, fault: open, for: 5}") == R"()");
}
TEST_CASE("not a list of mappings") {
  CHECK(test::fault({{"nets:", "faults: {part: drain}\nnets:"}}) == R"()");
  CHECK(test::fault({{"nets:", "faults: [drain]\nnets:"}}) == R"()");
  CHECK(test::fault({{"nets:", "faults: []\nnets:"}}) == R"()");
}
TEST_CASE("sentences on the command line") {
  CHECK(answer("") == R"()");
  CHECK(answer("by 60 %") == R"()");
  CHECK(answer("soiled by 60 %") == R"()");
  CHECK(answer("panel-sout soiled by 60 %") == R"()");
  CHECK(answer("panel-south soiled 60 %") == R"()");
  CHECK(answer("panel-south soiled by 60 % at 2025-13-01") == R"()");
  CHECK(answer("panel-south soiled by 60 % by 70 %") == R"()");
  CHECK(answer("panel-south soiled by") == R"()");
  CHECK(answer("logger retries phase snd times 10") == R"()");
}
