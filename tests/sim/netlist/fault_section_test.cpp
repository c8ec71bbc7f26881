#include "sim/netlist/fault_section.hpp"

#include <doctest/doctest.h>

#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;

Scenario scenario_with(const std::string& faults) {
  const test::Scratch scratch;
  return read_scenario(scratch.write("a.yaml", test::shipped("peat-bog-better.yaml", {}) + faults));
}

}  // namespace

TEST_CASE("times count from the span's first day; what is left out is its begin and its end") {
  const Scenario s = scenario_with(
      "faults:\n"
      "  - {part: panel-south, fault: soiled, by: 60 %, at: 2024-10-16 06:00, for: 5 d}\n"
      "  - {fault: cold-snap, by: 15 K, at: 2024-10-15T12:30:01.5}\n"
      "  - {part: logger, fault: retries, phase: send, times: 10, for: 90 min}\n");
  REQUIRE(s.faults.size() == 3);
  CHECK(s.faults[0].part == "panel-south");
  CHECK(s.faults[0].kind == "soiled");
  CHECK(s.faults[0].values.by == doctest::Approx(0.6));
  CHECK(s.faults[0].begin == 30 * hour);
  CHECK(s.faults[0].end == 150 * hour);
  CHECK(s.faults[1].part.empty());
  CHECK(s.faults[1].values.colder.si() == 15);
  CHECK(s.faults[1].begin == 25 * hour / 2 + 3 * ticks_per_second / 2);
  CHECK(s.faults[1].end == never);
  CHECK(s.faults[2].values.phase == "send");
  CHECK(s.faults[2].values.times == 10);
  CHECK(s.faults[2].begin == 0);
  CHECK(s.faults[2].end == 3 * hour / 2);
}

TEST_CASE("a sentence says the same as an entry of the section, and adds to it") {
  const Scenario written = scenario_with(
      "faults:\n"
      "  - {part: wake pull-up, fault: open, at: 2024-10-16}\n"
      "  - {part: cell, fault: aged, by: 30 %, times: 2, at: 2024-10-16 06:00, for: 5 d}\n"
      "  - {fault: cold-snap, by: 15 K}\n"
      "  - {part: logger, fault: hung, phase: send, for: 3 h}\n");
  Scenario said = scenario_with("faults:\n  - {part: wake pull-up, fault: open, at: 2024-10-16}\n");
  add_faults(said, {"cell aged by 30 % times 2 at 2024-10-16 06:00 for 5 d", "cold-snap   by 15 K",
                    "logger hung for: 3 h phase send"});
  add_faults(said, {});
  REQUIRE(said.faults.size() == written.faults.size());
  for (std::size_t i = 0; i < said.faults.size(); ++i) {
    CHECK(text_of(said.faults[i]) == text_of(written.faults[i]));
    CHECK(said.faults[i].begin == written.faults[i].begin);
    CHECK(said.faults[i].end == written.faults[i].end);
  }
  CHECK(text_of(said.faults[1]) == "cell aged by 30 % times 2");
}

TEST_CASE("all sentences that are wrong are told at once, and none of the others is taken") {
  Scenario s = scenario_with("");
  try {
    add_faults(s, {"panel-south soiled by 60 %", "panel-south soild by 60 %", "diode opened"});
    FAIL("accepted");
  } catch (const InputError& e) {
    CHECK(e.faults().size() == 2);
  }
}
