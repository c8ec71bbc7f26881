// Beside the pair of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("inrush: each look is filed once, and comes long before a converter's loop has answered") {
  const Json s = test::summary_of("inrush");
  const Json m = seen(s, "inrush");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("count") == s.at("brownouts").at("events")[0].at("attempts").get<int>() + 1);
  CHECK(m.at("after_s").get<double>() < 1e-5);  // the class's crossover frequency is 10 kHz
}

TEST_CASE("inrush: what the settled network does not bear is none") {
  CHECK(seen(test::summary_of("constant-power-collapse"), "inrush").is_null());
  CHECK(seen(test::summary_of("converter-limit"), "inrush").is_null());
}
