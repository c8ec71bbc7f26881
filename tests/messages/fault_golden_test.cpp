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

TEST_CASE("the fault itself is accepted") {
  CHECK(fault_with("{part: drain, fault: open, at: 2024-10-16 06:00}").empty());
}

TEST_CASE("a kind that does not fit the part's model") {
  CHECK(fault_with("{part: drain, fault: soiled, by: 60 %}") == R"(
bench.yaml:7:31: a part of model resistor cannot be given the fault 'soiled'
    faults: [{part: drain, fault: soiled, by: 60 %}]
                                  ^^^^^^
  try: one of open, short
)");
}
TEST_CASE("a kind that is misspelled, or unknown") {
  CHECK(fault_with("{part: drain, fault: opne}") == R"(
bench.yaml:7:31: there is no fault 'opne' for a part of model resistor
    faults: [{part: drain, fault: opne}]
                                  ^^^^
  try: open
)");
  CHECK(fault_with("{part: drain, fault: rusty}") == R"(
bench.yaml:7:31: there is no fault 'rusty' for a part of model resistor
    faults: [{part: drain, fault: rusty}]
                                  ^^^^^
  try: one of open, short
)");
}
TEST_CASE("a part that is misspelled, missing, or not wanted") {
  CHECK(fault_with("{part: drian, fault: open}") == R"(
bench.yaml:7:17: there is no part 'drian'
    faults: [{part: drian, fault: open}]
                    ^^^^^
  try: drain
)");
  CHECK(fault_with("{fault: open}") == R"(
bench.yaml:7:10: the fault does not say which part has it
    faults: [{fault: open}]
             ^
  try: part: cell
)");
  CHECK(fault_with("{part: drain, fault: cold-snap, by: 10 K}") == R"(
bench.yaml:7:11: a cold-snap befalls the whole site, not a part
    faults: [{part: drain, fault: cold-snap, by: 10 K}]
              ^^^^
  try: remove the part
)");
}
TEST_CASE("no kind") {
  CHECK(fault_with("{part: drain}") == R"(
bench.yaml:7:10: the fault does not say what it is
    faults: [{part: drain}]
             ^
  try: fault: open, or another that `overwinter explain faults` lists
)");
  CHECK(fault_with("{part: drain, falut: open}") == R"(
bench.yaml:7:10: the fault does not say what it is
    faults: [{part: drain, falut: open}]
             ^
  try: fault in place of falut
)");
}
TEST_CASE("a value that is missing, too large or unknown") {
  CHECK(fault_with("{fault: cold-snap}") == R"(
bench.yaml:7:18: fault cold-snap lacks by
    faults: [{fault: cold-snap}]
                     ^^^^^^^^^
  try: by: NUMBER K (how much colder the air is than the weather has it)
)");
  CHECK(fault_with("{part: cell, fault: aged, by: 130 %}") == R"(
bench.yaml:7:40: '130 %' is out of range: by must be from 0 % to 95 %
    faults: [{part: cell, fault: aged, by: 130 %}]
                                           ^^^^^
  try: by: NUMBER % (share of its capacity that is lost)
)");
  CHECK(fault_with("{part: cell, fault: aged}") == R"(
bench.yaml:7:30: cell: so aged a cell is as good as new
    faults: [{part: cell, fault: aged}]
                                 ^^^^
  try: by: 20 %, or times: 2, or both
)");
  CHECK(fault_with("{part: drain, fault: open, by: 10 %}") == R"(
bench.yaml:7:37: fault open has no key 'by'
    faults: [{part: drain, fault: open, by: 10 %}]
                                        ^^
  try: one of part, fault, at, for
)");
}
TEST_CASE("a time that cannot be read, has an offset or is outside of the span") {
  CHECK(fault_with("{part: drain, fault: open, at: yesterday}") == R"(
bench.yaml:7:41: at must be a time written YYYY-MM-DD hh:mm that exists, not 'yesterday'
    faults: [{part: drain, fault: open, at: yesterday}]
                                            ^^^^^^^^^
  try: at: 2024-10-15 06:00
)");
  CHECK(fault_with("{part: drain, fault: open, at: 2024-02-30 06:00}") == R"(
bench.yaml:7:41: at must be a time written YYYY-MM-DD hh:mm that exists, not '2024-02-30 06:00'
    faults: [{part: drain, fault: open, at: 2024-02-30 06:00}]
                                            ^^^^^^^^^^^^^^^^
  try: at: 2024-10-15 06:00
)");
  CHECK(fault_with("{part: drain, fault: open, at: 2024-10-16 06:00+01:00}") == R"(
bench.yaml:7:41: at is in the site's standard time and takes no other
    faults: [{part: drain, fault: open, at: 2024-10-16 06:00+01:00}]
                                            ^^^^^^^^^^^^^^^^^^^^^^
  try: at: 2024-10-16 06:00
)");
  CHECK(fault_with("{part: drain, fault: open, at: 2025-10-16 06:00}") == R"(
bench.yaml:7:41: 2025-10-16 06:00 is outside the span, which goes from 2024-10-15 to 2024-10-20, both included
    faults: [{part: drain, fault: open, at: 2025-10-16 06:00}]
                                            ^^^^^^^^^^^^^^^^
  try: at: 2024-10-15 00:00, or another time inside
)");
  CHECK(fault_with("{part: drain, fault: open, for: 0 d}") == R"(
bench.yaml:7:42: '0 d' is out of range: for must be above 0 d and at most 100000 d
    faults: [{part: drain, fault: open, for: 0 d}]
                                             ^^^
  try: for: NUMBER d (how long it lasts; to the span's end if left out)
)");
  CHECK(fault_with("{part: drain, fault: open, for: 5}") == R"(
bench.yaml:7:42: no unit after 5; for is given in d
    faults: [{part: drain, fault: open, for: 5}]
                                             ^
  try: 5 d
)");
}
TEST_CASE("not a list of mappings") {
  CHECK(test::fault({{"nets:", "faults: {part: drain}\nnets:"}}) == R"(
bench.yaml:7:9: faults must be a list, not a mapping
    faults: {part: drain}
            ^
  try: faults: [{part: PART, fault: KIND, at: YYYY-MM-DD hh:mm, for: NUMBER d}]
)");
  CHECK(test::fault({{"nets:", "faults: [drain]\nnets:"}}) == R"(
bench.yaml:7:10: a fault must be a mapping, not 'drain'
    faults: [drain]
             ^^^^^
  try: {part: PART, fault: KIND, at: YYYY-MM-DD hh:mm, for: NUMBER d}
)");
  CHECK(test::fault({{"nets:", "faults: []\nnets:"}}) == R"(
bench.yaml:7:1: faults is empty
    faults: []
    ^^^^^^
  try: faults: [{part: PART, fault: KIND, at: YYYY-MM-DD hh:mm, for: NUMBER d}], or remove the key
)");
}
TEST_CASE("sentences on the command line") {
  CHECK(answer("panel-south") == R"(
--fault: part 'panel-south' is given no fault
    panel-south
    ^^^^^^^^^^^
  try: panel-south open ...
)");
  CHECK(answer("") == R"(
--fault: the fault is empty
  try: "PART KIND at YYYY-MM-DD hh:mm for NUMBER d", such as "panel-south soiled by 60 % at 2025-01-10 06:00 for 5 d"
)");
  CHECK(answer("by 60 %") == R"(
--fault: the fault does not begin with a part and what befalls it
    by 60 %
    ^^
  try: "PART KIND at YYYY-MM-DD hh:mm for NUMBER d", such as "panel-south soiled by 60 % at 2025-01-10 06:00 for 5 d"
)");
  CHECK(answer("soiled by 60 %") == R"(
--fault: the fault does not say which part has it
    soiled by 60 %
    ^
  try: panel-east soiled ...
)");
  CHECK(answer("panel-sout soiled by 60 %") == R"(
--fault: there is no part 'panel-sout'
    panel-sout soiled by 60 %
    ^^^^^^^^^^
  try: panel-south
)");
  CHECK(answer("panel-south soiled 60 %") == R"(
--fault: '60 %' stands behind soiled without a key
    panel-south soiled 60 %
                       ^^^^
  try: soiled by 60 %
)");
  CHECK(answer("panel-south soiled by 60 % at 2025-13-01") == R"(
--fault: at must be a time written YYYY-MM-DD hh:mm that exists, not '2025-13-01'
    panel-south soiled by 60 % at 2025-13-01
                                  ^^^^^^^^^^
  try: at: 2024-10-15 06:00
)");
  CHECK(answer("panel-south soiled by 60 % by 70 %") == R"(
--fault: by is given twice
    panel-south soiled by 60 % by 70 %
                               ^^
  try: keep one of the two
)");
  CHECK(answer("panel-south soiled by") == R"(
--fault: fault soiled lacks by
    panel-south soiled by
                ^^^^^^
  try: by: NUMBER % (share of its light that is lost)
)");
  CHECK(answer("logger retries phase snd times 10") == R"(
--fault: logger: no phase is called "snd"
    logger retries phase snd times 10
                         ^^^
  try: one of measure, store, send
)");
}
