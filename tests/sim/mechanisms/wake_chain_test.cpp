// Beside the pairs of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("wake chain: a driver that cannot pull the gate far enough leaves the switch half driven") {
  // 10 kohm to the source against 64 kohm of interrupt output: 5 V * 10 / 74 = 0.68 V, below the threshold of 0.8 V.
  const Json s = test::summary_of("gate-undriven",
                                  {{"net: pack+, resistance: 100 kohm", "net: rail, resistance: 10 kohm"},
                                   {"first_alarm: 10 min", "first_alarm: 10 min, interrupt_resistance: 64 kohm"}});
  const Json m = seen(s, "gate-undriven");
  REQUIRE_FALSE(m.is_null());
  CHECK(m.at("part") == "switch");
  CHECK(m.at("drive_V").get<double>() == doctest::Approx(5.0 * 10 / 74).epsilon(0.02));
  CHECK(m.at("drop_V").get<double>() > 0.1);
  CHECK(m.at("text").get<std::string>().find("half driven") != std::string::npos);
}

TEST_CASE("wake chain: a rail that is low under a driven gate is not the gate's fault") {
  // The light of a day brings the rail to a volt, too low a source for full drive: the switch is half driven then.
  const test::WorkingFolder folder;
  ReplayOptions options;
  options.out = folder.path("run");
  const Json s =
      replay(read_scenario(folder.write("edited.yaml", test::shipped("outcomes/failed-starts.yaml", {}))), options)
          .summary;
  CHECK(folder.read("run/events.csv").find("half driven") != std::string::npos);
  CHECK(seen(s, "gate-undriven").is_null());
  CHECK(seen(s, "flag-not-cleared").is_null());  // a wake that never came leaves the flag set, as it should
}

TEST_CASE("wake chain: a coin cell that is used up while the supply stands loses nothing") {
  const Json s = test::summary_of("clock-backup-lost", {{"lead.b, boost.in]", "lead.b, boost.in, clock.supply]"},
                                                        {"decoupling.plus, clock.supply]", "decoupling.plus]"}});
  CHECK(seen(s, "clock-backup-lost").is_null());
  CHECK(s.at("brownouts").at("count") == 0);
}

TEST_CASE("wake chain: an alarm beyond its registers comes too soon, and one that never matches never") {
  const Json soon = test::summary_of(
      "alarm-missed-not", {{"alarm_match: hours", "alarm_match: minutes"}, {"every: 1 min", "every: 150 min"}});
  const Json m = seen(soon, "alarm-missed");
  REQUIRE_FALSE(m.is_null());
  // Minutes and seconds match after half an hour, two hours before what was meant.
  CHECK(m.at("shift_s").get<double>() == doctest::Approx(-7200));
  CHECK(soon.at("brownouts").at("count") == 0);
  const Json never = test::summary_of("alarm-missed", {{"alarm_match: hours", "alarm_match: year"}});
  CHECK(seen(never, "alarm-missed").at("shift_s").is_null());
  CHECK(seen(never, "alarm-missed").at("text").get<std::string>().find("it never comes") != std::string::npos);
  CHECK(seen(never, "clock-backup-lost").is_null());
}
