// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("back-feed: a resistor past the switch is a way in as well") {
  const Json s = test::summary_of(
      "back-feed", {{"{model: signal-line, resistance: 2.2 kohm, lines: 2}", "{model: resistor, resistance: 1.1 kohm}"},
                    {"bus-lines.from", "bus-lines.a"},
                    {"bus-lines.to", "bus-lines.b"}});
  const Json m = seen(s, "back-feed");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("part") == "bus-lines");
  // Ohm's law from the cell's 3.82 V.
  CHECK(m.at("supply_V").get<double>() == doctest::Approx(3.82 - 1100 * m.at("current_A").get<double>()).epsilon(5e-3));
}

TEST_CASE("back-feed: a gate that is not pulled up is none, though the supply stands") {
  CHECK(seen(test::summary_of("gate-undriven"), "back-feed").is_null());
}

TEST_CASE("back-feed: a single bus line is no divider") {
  const Json line = test::summary_of("divider-leak", {{"resistance: 100 kohm", "resistance: 4.7 kohm"}});
  CHECK(seen(line, "divider-leak").is_null());
  CHECK_FALSE(seen(line, "back-feed").is_null());
}
