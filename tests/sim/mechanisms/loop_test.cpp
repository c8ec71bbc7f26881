// Beside the pair of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("loops: every start simulated and stepped over come to the same") {
  // 80 ms of boot, 10 ms of reset, 2 ms of power-on delay: the current is theirs, whichever way it is counted.
  const Json s = test::summary_of("reset-loop");
  const Json m = seen(s, "reset-loop");
  CHECK(s.at("stepped_over").at("time_s").get<double>() > 80000);
  CHECK(m.at("starts").get<double>() == doctest::Approx(86400 / 0.092).epsilon(1e-3));
  // What the loop draws is all that leaves the cell.
  CHECK(m.at("charge_per_start_C").get<double>() * m.at("starts").get<double>() / 3600 ==
        doctest::Approx(s.at("cell").at("charge_out_Ah").get<double>()).epsilon(1e-3));
}

TEST_CASE("loops: a light that gives more than the loop takes is told") {
  const Json s = test::summary_of(
      "reset-loop", {{"parts:\n",
                      "parts:\n  panel: {part: panel-6v-330ma, tilt: 60 deg, azimuth: 180 deg}\n  diode: {part: "
                      "schottky-1a-40v}\n  charger: {part: charger-linear-lfp-100ma}\n"},
                     {"nets:\n", "nets:\n  panel+: [panel.plus, diode.anode]\n  sun: [diode.cathode, charger.in]\n"},
                     {"[cell.plus, lead.a]", "[cell.plus, lead.a, charger.out]"},
                     {"[cell.minus, logger.ground", "[cell.minus, logger.ground, panel.minus, charger.ground"},
                     {"from: 2025-01-10, to: 2025-01-10", "from: 2024-09-10, to: 2024-09-10"}});
  const Json m = seen(s, "reset-loop");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("light_W").get<double>() > m.at("spent_W").get<double>());
  CHECK(m.at("drains_faster_than_light") == false);
  CHECK(m.at("text").get<std::string>().find("the light gives more than it takes") != std::string::npos);
}

TEST_CASE("loops: two starts are none, and a wake that is completed ends one") {
  const Json s = test::summary_of("half-awake-not");  // the dip resets it once
  CHECK(seen(s, "reset-loop").is_null());
  CHECK(seen(test::summary_of("leakage-budget-not"), "reset-loop").is_null());
}

TEST_CASE("loops: starts twenty minutes apart are none, though the lockout comes back") {
  const Json s =
      test::summary_of("lockout-hiccup", {{"lockout_hysteresis: 50 mV", "lockout_hysteresis: 50 mV, retry: 1200 s"}});
  CHECK(seen(s, "lockout-hiccup").at("count").get<int>() > 50);
  CHECK(seen(s, "reset-loop").is_null());
}
