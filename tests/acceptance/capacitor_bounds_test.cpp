// Capacitors at the bounds that Capacitor::build() sets: three days of hourly wakes are served, without more events
// than wakes need.
#include <doctest/doctest.h>

#include <string>

#include "sim/replay/replay.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;

TEST_CASE("a reservoir at the bounds of its law serves every wake") {
  const test::Scratch scratch;
  for (const char* converter : {"boost-5v-1a", "boost-5v-500ma-disconnect"}) {
    for (const std::string reservoir :
         {"capacitance: 0.1 F, series_resistance: 10 ohm, charging_time: 1 s, tracking_band: 1 mV",
          "capacitance: 0.1 F, series_resistance: 5 mohm, charging_time: 1 s, tracking_band: 20 mV",
          "capacitance: 1 mF, series_resistance: 10 ohm, charging_time: 10 ms, tracking_band: 1 mV",
          "capacitance: 1 mF, series_resistance: 5 mohm, charging_time: 10 ms, tracking_band: 1 mV",
          "capacitance: 0.1 F, series_resistance: 20 ohm, charging_time: 2 s, tracking_band: 100 mV"}) {
      CAPTURE(converter);
      CAPTURE(reservoir);
      const std::string text =
          test::shipped("outcomes/survives.yaml", {{"to: 2025-03-24", "to: 2025-03-03"},
                                                   {"boost-5v-1a", converter},
                                                   {"part: electrolytic-470uf", "model: capacitor, " + reservoir}});
      ReplayOptions options;
      options.out = scratch.path("run");
      options.look_closer = false;  // the law of a settled run is what is tested
      const auto summary = replay(read_scenario(scratch.write("bounds.yaml", text)), options).summary;
      CHECK(summary.at("service").at("wakes_completed") == 72);
      CHECK(summary.at("brownouts").at("count") == 0);
      CHECK(summary.at("engine").at("events").get<int>() < 100 * 72);
      CHECK(summary.at("engine").at("steps").get<int>() < 50'000);
    }
  }
}
