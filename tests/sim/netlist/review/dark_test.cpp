#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_dark, edits); }

}  // namespace

TEST_CASE("a charger stops what leaks through the diodes") { CHECK(findings({}).empty()); }

TEST_CASE("a diode on the cell leaks in the dark") {
  // 19 uA at 20 V are 3.5 uA at 3.7 V, and 1 uA of the junction: 4.5 uA at 25 degC, and at 60 degC (333/298)^2
  // exp(0.65 eV / k (1/298.15 - 1/333.15)) = 17.8 times as much.
  CHECK(findings({{"sun: [diode-south.cathode, ", "sun: ["}, {"pack+: [", "pack+: [diode-south.cathode, "}}) ==
        All{"diode-south takes 81 uA back from cell in the dark at 60 degC, more than the 28 uA that the instrument "
            "sleeps on: a night of 12 h costs 0.97 mAh of 3 Ah, as much as 34.4 h of sleep; try: a charger in between, "
            "or diodes of less reverse current"});
  CHECK(findings({{"diode-south: {part: schottky-1a-40v}", "diode-south: {part: schottky-200ma-30v}"},
                  {"sun: [diode-south.cathode, ", "sun: ["},
                  {"pack+: [", "pack+: [diode-south.cathode, "}})
            .empty());
}

TEST_CASE("a panel without a diode on the cell") {
  CHECK(findings({{"  south+: [panel-south.plus, diode-south.anode]\n", ""},
                  {"  diode-south: {part: schottky-1a-40v}\n", ""},
                  {"sun: [diode-south.cathode, ", "sun: ["},
                  {"pack+: [", "pack+: [panel-south.plus, "}})
            .front()
            .find("panel-south takes ") == 0);
}
