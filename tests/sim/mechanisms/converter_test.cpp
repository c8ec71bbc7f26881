// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::cause_id;
using test::Json;
using test::seen;

TEST_CASE("converters: a duty that does not reach the rail is the converter's limit") {
  // 3.8 V / (1 - 20 %) = 4.8 V: enough to boot, and the burst's drop over cell and lead takes it below 4.3 V.
  const Json s = test::summary_of("converter-limit", {{"current_limit: 0.4 A", "maximum_duty: 20 %"},
                                                      {"resistance: 0.1 ohm", "resistance: 0.6 ohm"}});
  const Json m = seen(s, "converter-limit");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("reach_V").get<double>() == doctest::Approx(m.at("input_V").get<double>() / 0.8));
  CHECK(cause_id(s) == "converter-limit");
}

TEST_CASE("converters: behind a protector that has opened there is nothing to collapse") {
  const Json s = test::summary_of("protector-trip");
  CHECK(s.at("brownouts").at("events")[0].at("chain").size() > 1);  // the converter locks out as well
  for (const char* id : {"constant-power-collapse", "converter-limit", "lockout-hiccup"}) CHECK(seen(s, id).is_null());
}

TEST_CASE("converters: a burst that the source bears, but not at that current limit, is no collapse") {
  // E^2/(4 R) of cell and lead is 33 W; the limit lets 1.3 W through, and nothing is locked out.
  const Json s = test::summary_of("converter-limit");
  CHECK(seen(s, "constant-power-collapse").is_null());
  CHECK(seen(s, "lockout-hiccup").is_null());
}

TEST_CASE("converters: lockouts and limits that were stepped over count") {
  for (const char* id : {"lockout-hiccup", "converter-limit"}) {
    CAPTURE(id);
    const Json s = test::summary_of(id);
    const double attempts = s.at("brownouts").at("events")[0].at("attempts");
    CHECK(s.at("stepped_over").at("time_s").get<double>() > 0);
    CHECK(seen(s, id).at("count").get<double>() == doctest::Approx(attempts).epsilon(0.01));
  }
}

TEST_CASE("converters: one that is switched off at its input has not collapsed") {
  const Json s = test::summary_of("converter-always-on-not");
  CHECK(s.at("service").at("wakes_completed") == 4);
  for (const char* id : {"constant-power-collapse", "converter-limit", "lockout-hiccup"}) CHECK(seen(s, id).is_null());
}
