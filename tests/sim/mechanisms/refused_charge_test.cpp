// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("refused charge: light refused to a full cell is none of these") {
  const Json s = test::summary_of("panel-below-rating-not", {{"charge: 50 %", "charge: 100 %"}});
  CHECK(s.at("energy").at("refused_J").at("complete").get<double>() > 0);
  for (const char* id : {"charger-deadlock", "cold-charge-block", "weak-light"}) CHECK(seen(s, id).is_null());
}

TEST_CASE("refused charge: pre-charge that is above the load by a little fills the cell") {
  const Json s = test::summary_of("charger-deadlock", {{"current: 12 mA", "current: 9 mA"}});
  CHECK(s.at("cell").at("soc_end").get<double>() > 0.5);
  CHECK(seen(s, "charger-deadlock").is_null());
}

TEST_CASE("refused charge: the two days without the cold are not counted") {
  // Late in November: frost on some days only.
  const Json s =
      test::summary_of("cold-charge-block", {{"from: 2025-01-10, to: 2025-01-12", "from: 2024-11-18, to: 2024-11-27"}});
  const Json m = seen(s, "cold-charge-block");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("count").get<int>() < 10);
  CHECK(m.at("refused_J").get<double>() <= s.at("energy").at("refused_J").at("too cold").get<double>());
}
