#include "sim/replay/changes_json.hpp"

#include <doctest/doctest.h>

#include "sim/netlist/fault_section.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("changes: what --set replaced, and every fault with its times") {
  Scenario scenario = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/survives.yaml",
                                    {parse_override("cell.charge=50 %")});
  add_faults(scenario, {"cell aged by 30 %", "cold-snap by 15 K at " + iso(scenario.from) + " 06:00 for 2 h"});
  const test::Replayed run(std::move(scenario));
  const auto j = changes_json(run.scenario, run.weather);
  REQUIRE(j.at("overrides").size() == 1);
  CHECK(j.at("overrides")[0].at("path") == "cell.charge");
  CHECK(j.at("overrides")[0].at("value") == "50 %");
  REQUIRE(j.at("faults").size() == 2);
  CHECK(j.at("faults")[0].at("part") == "cell");
  CHECK(j.at("faults")[0].at("fault") == "aged");
  CHECK(j.at("faults")[0].at("from") == iso_time(run.weather.begin()));
  CHECK(j.at("faults")[0].at("to").is_null());
  CHECK(j.at("faults")[1].at("part").is_null());
  CHECK(j.at("faults")[1].at("to") == iso_time(run.weather.begin() + 8 * 3600 * ticks_per_second));
}
