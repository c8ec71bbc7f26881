#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_burst_paths, edits); }

}  // namespace

TEST_CASE("a burst path as it should be") { CHECK(findings({}).empty()); }

TEST_CASE("a burst path that takes a quarter of the margin") {
  // 1.55 W at 0.91 and 3.74 V; 0.6 ohm of lead, 0.05 of protector and 0.1 of shunt; 3.7355 V - 2.8 V.
  CHECK(findings({{"resistance: 0.15 ohm", "resistance: 0.6 ohm"}}) ==
        All{"lead, guard, monitor on the way to boost take 0.75 ohm x 0.46 A = 0.34 V in send, 37 % of the 0.94 V "
            "between the half-full cell (3.7 V) and the trip of guard (2.8 V); try: at most 0.51 ohm in all: thicker "
            "or shorter leads, a smaller shunt, or less power in that phase"});
  CHECK(findings({{"resistance: 0.15 ohm", "resistance: 0.35 ohm"}}).empty());
}

TEST_CASE("the lockout of the converter where it is higher, and a lead in the return") {
  CHECK(findings({{"boost-5v-500ma-disconnect}", "boost-5v-500ma-disconnect, lockout: 3.2 V}"}})
            .front()
            .find("26 % of the 0.54 V between the half-full cell (3.7 V) and the lockout of boost (3.2 V)") !=
        std::string::npos);
  CHECK(findings({{"  guarded+: [guard.cell, lead.a]\n", ""},
                  {"cell+: [lead.b, ", "cell+: [guard.cell, "},
                  {"gnd: [", "return: [cell.minus, lead.a]\n  gnd: [lead.b, "},
                  {" cell.minus,", ""},
                  {"0.15 ohm", "0.6 ohm"}})
            .front()
            .find("0.75 ohm x 0.46 A") != std::string::npos);
}
