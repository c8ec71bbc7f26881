// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("half states: a controller held in reset on what a converter passes on is half awake") {
  const Json s = test::summary_of("pass-through");
  const Json m = seen(s, "half-awake");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("state") == "reset");
  CHECK(m.at("supply_V").get<double>() == doctest::Approx(seen(s, "pass-through").at("supply_V").get<double>()));
  CHECK(test::cause_id(s) == "pass-through");  // and not what it leads to
}

TEST_CASE("half states: one that hangs after its wake, when nothing is told, is found at the end of the day") {
  const Json s = test::summary_of("half-awake", {{"duration: 14 h", "duration: 1 h"}});
  CHECK(s.at("brownouts").at("count") == 0);
  const Json m = seen(s, "half-awake");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("state") == "hung");
  CHECK(m.at("first").get<std::string>().substr(0, 13) == "2025-01-11T00");
}

TEST_CASE("half states: a supply that only passes through them is none") {
  const Json s = test::summary_of("leakage-budget-not");
  CHECK(seen(s, "half-awake").is_null());
  CHECK(seen(s, "pass-through").is_null());
}

TEST_CASE("half states: a rail that a store holds up is passed on by no converter") {
  // After the lockout 20 mF feed a controller in reset, 150 uA: from 4.3 V to 0.9 V in 450 s. Without a closer look, at
  // which the empty store would keep the converter from starting.
  const Json s = test::summary_of(
      "lockout-hiccup-not",
      {{"parts:\n",
        "parts:\n  store: {model: capacitor, capacitance: 20 mF, series_resistance: 50 mohm, charging_time: 1 "
        "s}\n"},
       {"logger.supply, ", "logger.supply, store.plus, "},
       {"[cell.minus,", "[cell.minus, store.minus,"},
       {"power: 1.6 W", "power: 2.5 W"}},
      false);
  CHECK(s.at("brownouts").at("count") == 1);
  CHECK_FALSE(seen(s, "half-awake").is_null());
  CHECK(seen(s, "pass-through").is_null());
}
