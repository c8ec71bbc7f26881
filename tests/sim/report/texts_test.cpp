#include "sim/report/texts.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

TEST_CASE("figures") {
  CHECK(figure(0.1 + 0.2) == "0.3");
  CHECK(figure(-0.0) == "0");
  CHECK(figure(1946412) == "1946412");
  CHECK(figure(871.2674) == "871.267");
  CHECK(figure(4.2, "V") == "4.2 V");
  CHECK(figure(3.0, "") == "3");
  CHECK(figure(std::nullopt, "V") == "not known");
}

TEST_CASE("notes that say the same are gathered") {
  CHECK(gathered({"east: label only", "cell: warm", "west: label only", "a", "a"}) ==
        std::vector<std::string>{"east, west: label only", "cell: warm", "a", "a"});
  CHECK(gathered({}).empty());
}

TEST_CASE("what was given in place of the scenario's values") {
  CHECK(
      overrides_of({{"overrides",
                     {{{"path", "cell.charge"}, {"value", "55 %"}, {"was", "80 %"}},
                      {{"path", "cell.capacity"}, {"value", "4 Ah"}}}}}) ==
      std::vector<std::string>{"cell.charge is 55 %, not 80 %", "cell.capacity is 4 Ah, which the file does not say"});
  CHECK(overrides_of({}).empty());
}

TEST_CASE("the sunny days of an episode") {
  CHECK(sunny_days_of({{"sunny_days", 1}}) == "1 sunny day came and went");
  CHECK(sunny_days_of({{"sunny_days", 3}, {"sunny_days_refused_by", {{"charger: too cold", 2}, {"guard: off", 1}}}}) ==
        "3 sunny days came and went; most of the light was refused on 2 (charger: too cold); most of the light was "
        "refused on 1 (guard: off)");
  CHECK(sunny_days_of({{"sunny_days", 3}, {"sunny_days_refused_by", {{"charger: too cold", 3}}}}) ==
        "3 sunny days came and went; most of the light was refused on all 3 (charger: too cold)");
  CHECK(sunny_days_of({{"sunny_days", 1}, {"sunny_days_refused_by", {{"charger: too cold", 1}}}}) ==
        "1 sunny day came and went; most of the light was refused on it (charger: too cold)");
  CHECK(sunny_days_of({{"sunny_days", 0}}).empty());
  CHECK(sunny_days_of(Facts()).empty());
}

TEST_CASE("instants are read from ISO 8601 in UTC") {
  CHECK(tick_of("1970-01-02T00:00:01Z") == ticks_per_day + ticks_per_second);
  CHECK(tick_of("1970-01-01T00:00:00.250000001Z") == 250'000'001);
  CHECK(tick_of("1969-12-31T23:59:59Z") == -ticks_per_second);
  for (const char* text : {"", "2025-01-24", "2025-01-24T13:03:21", "2025-02-30T13:03:21Z", "2025-01-24T13:03:21,5Z",
                           "2025-01-24T13:03:21.1234567890Z", "2025-01-24T13:03:21+01:00Z", "a025-01-24T13:03:21Z"}) {
    CAPTURE(text);
    CHECK_FALSE(tick_of(text));
  }
}

TEST_CASE("the site's clock") {
  const Tick half_past_midnight = 20'000 * ticks_per_day + 1'800 * ticks_per_second;  // 2024-10-04
  const SiteClock utc(0), west(-3 * 3'600 * ticks_per_second), east(19'800 * ticks_per_second);
  CHECK(utc.name() == "UTC");
  CHECK(west.name() == "UTC-03:00");
  CHECK(east.name() == "UTC+05:30");
  CHECK(utc.second(half_past_midnight) == "2024-10-04 00:30:00");
  CHECK(west.minute(half_past_midnight) == "2024-10-03 21:30");
  CHECK(west.day(half_past_midnight) == "2024-10-03");
  CHECK(east.second("2024-10-04T00:30:00.999Z") == "2024-10-04 06:00:00");
  CHECK(east.second("some time") == "some time");
}

TEST_CASE("faults that were in force") {
  const Facts summary = {
      {"faults",
       {{{"part", "panel"}, {"fault", "soiled"}, {"details", "by 60 %"}, {"from", "A"}, {"to", "B"}},
        {{"part", nullptr}, {"fault", "cold-snap"}, {"details", ""}, {"from", "A"}, {"to", nullptr}}}}};
  CHECK(faults_in(summary) == std::vector<std::string>{"panel: soiled, by 60 %, from A to B", "cold-snap, from A on"});
  CHECK(faults_in(Facts::object()).empty());
}

TEST_CASE("what was looked into, and what it came to") {
  Facts s = {{"zooms", {{"thin", 5}, {"looked_into", 2}, {"failed", 0}, {"steps", 90}, {"solves", 800}}}};
  CHECK(zooms_of(s) ==
        "5 moments with a thin worst case; 2 looked into, in 90 steps and 800 solutions of the network; nothing failed "
        "in them");
  s["zooms"]["failed"] = 1;
  CHECK(zooms_of(s).find("in 1 of them something failed") != std::string::npos);
  s["zooms"]["thin"] = 0;
  CHECK(zooms_of(s).empty());
  CHECK(zooms_of(Facts::object()).empty());
}
