// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("floor: what a load uses while the instrument sleeps is no leakage") {
  const Json s = test::summary_of(
      "leakage-budget",
      {{"{model: capacitor, capacitance: 100 uF, series_resistance: 5 mohm, leakage_resistance: 5 kohm}",
        "{model: load, kind: resistance, resistance: 5 kohm}"}});
  CHECK(s.at("energy").at("delivered_by_part_J").at("store").get<double>() > 200);
  CHECK(seen(s, "leakage-budget").is_null());
}

TEST_CASE("floor: an instrument that no longer wakes has no budget") {
  const Json s = test::summary_of("clock-backup-lost");
  CHECK(s.at("service").at("wakes_completed").get<int>() > 2);
  CHECK(seen(s, "leakage-budget").is_null());
  CHECK(seen(s, "converter-always-on").is_null());
}

TEST_CASE("floor: wakes that come faster than the break-even interval speak for leaving the converter on") {
  // Starts every 5 s would cost what idling takes: with a wake a minute the idling pays, but with 3 mW it is a quarter
  // of nothing; with a store of 0.1 F on the rail a start costs a joule and more.
  const Json s = test::summary_of(
      "converter-always-on",
      {{"logger:\n",
        "store: {model: capacitor, capacitance: 50 mF, series_resistance: 50 mohm, charging_time: 1 s}\n  logger:\n"},
       {"[boost.out, switch.source]", "[boost.out, switch.source, store.plus]"},
       {"logger.ground,", "logger.ground, store.minus,"},
       {"every: 6 h", "every: 30 min"}});
  CHECK(seen(s, "converter-always-on").is_null());
}

TEST_CASE("floor: what is lost while the sun shines does not come out of the cell") {
  const Json s =
      test::summary_of("leakage-budget-not",
                       {{"parts:\n",
                         "parts:\n  panel: {part: panel-6v-330ma, tilt: 40 deg, azimuth: 180 deg}\n  diode: {part: "
                         "schottky-1a-40v}\n  charger: {part: charger-linear-500ma}\n"},
                        {"nets:\n", "nets:\n  panel+: [panel.plus, diode.anode]\n  sun: [diode.cathode, charger.in]\n"},
                        {"boost.in, clock.supply,", "boost.in, charger.out, clock.supply,"},
                        {"[cell.minus,", "[cell.minus, panel.minus, charger.ground,"},
                        {"from: 2025-01-10, to: 2025-01-10", "from: 2024-07-10, to: 2024-07-11"}});
  const Json& lost = s.at("energy").at("losses_J");
  CHECK(lost.at("charger").at("pass").get<double>() > 5 * lost.at("boost").at("quiescent").get<double>());
  CHECK(seen(s, "leakage-budget").is_null());
}
