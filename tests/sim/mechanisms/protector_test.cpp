// Beside the pair of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("protectors: released by voltage they close by themselves, and are counted open meanwhile") {
  const Json s = test::summary_of("protector-trip", {{"protector-2a5-charge-release", "protector-2a5-voltage"},
                                                     {"2.8 V}", "2.8 V, overdischarge_release: 2.85 V}"}});
  const Json m = seen(s, "protector-trip");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("release") == "voltage");
  CHECK(m.at("released").get<int>() > 1);
  CHECK(m.at("count").get<int>() > 1);
  CHECK(m.at("longest_open_s").get<double>() > 0);
  CHECK(m.at("text").get<std::string>().find("by itself, at 2.9 V") != std::string::npos);  // two digits of 2.85 V
}

TEST_CASE("protectors: over-current is told from over-discharge") {
  const Json s =
      test::summary_of("protector-trip", {{"charge: 3 %", "charge: 60 %"}, {"2.8 V}", "2.8 V, overcurrent: 100 mA}"}});
  const Json m = seen(s, "protector-trip");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("kind") == "over-current");
  CHECK(m.at("release") == "load removed");
  CHECK(m.at("current_A").get<double>() >= 0.1);
  CHECK(m.at("open_at_end").is_boolean());
}
