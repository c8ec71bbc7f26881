#include "sim/weather/review.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "sim/netlist/review/review.hpp"
#include "sim/replay/weather_input.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

std::vector<DesignFinding> panels(std::vector<std::pair<std::string, std::string>> edits,
                                  const std::string& name = "findings/panel-away-from-equator-not.yaml") {
  const test::WorkingFolder folder;
  const Scenario s = read_scenario(folder.write("edited.yaml", test::shipped(name, std::move(edits))));
  return review_panels(s, weather_of(s, std::nullopt));
}

std::vector<DesignFinding> turned(const std::string& azimuth, const std::string& tilt = "70 deg") {
  return panels({{"tilt: 70 deg, azimuth: 180 deg", "tilt: " + tilt + ", azimuth: " + azimuth}});
}

Site at(double longitude, double offset) {
  Site site;
  site.longitude = longitude * units::degree;
  site.utc_offset = offset * units::hour;
  return site;
}

bool fits(double longitude, double offset) { return review_site(at(longitude, offset)).empty(); }

}  // namespace

TEST_CASE("a panel that faces the equator, east or west, or lies flat") {
  for (const char* azimuth : {"180 deg", "100 deg", "90 deg", "270 deg", "-90 deg", "85 deg"}) {
    CAPTURE(azimuth);
    CHECK(turned(azimuth).empty());
  }
  CHECK(turned("0 deg", "0 deg").empty());
}

TEST_CASE("a panel that faces the pole") {
  for (const char* azimuth : {"0 deg", "45 deg", "315 deg", "-45 deg", "360 deg"}) {
    CAPTURE(azimuth);
    const std::vector<DesignFinding> found = turned(azimuth);
    REQUIRE(found.size() == 1);
    CHECK(found[0].rule == "panel-away-from-equator");
    CHECK(found[0].parts == std::vector<std::string>{"panel"});
  }
  CHECK(turned("315 deg")[0].suggestion.find("azimuth: 225 deg, southwest (0 deg is north, 90 deg east") == 0);
}

TEST_CASE("in the south the equator is north") {
  const std::pair<std::string, std::string> south = {"latitude: 56 deg", "latitude: -56 deg"};
  const auto found = panels({south});
  REQUIRE(found.size() == 1);
  CHECK(found[0].text.find("panel faces away from the equator (azimuth 180 deg is south, latitude -56 deg)") == 0);
  CHECK(found[0].text.find("facing north") != std::string::npos);
  CHECK(panels({south, {"azimuth: 180 deg", "azimuth: 0 deg"}}).empty());
}

TEST_CASE("near the equator no side is the wrong one") {
  CHECK(panels({{"latitude: 56 deg", "latitude: 8 deg"}, {"azimuth: 180 deg", "azimuth: 0 deg"}}).empty());
}

TEST_CASE("panels that face all ways are meant so") {
  // Three of them, one facing the equator.
  CHECK(panels({}, "peat-bog.yaml").empty());
  // East, west and the pole's side.
  CHECK(panels({{"azimuth: 180 deg", "azimuth: 0 deg"},
                {"azimuth: 60 deg", "azimuth: 90 deg"},
                {"azimuth: 300 deg", "azimuth: 270 deg"}},
               "peat-bog.yaml")
            .empty());
  // The same three as they would be if 0 deg were south: all of them away from the sun.
  const auto found = panels({{"azimuth: 180 deg", "azimuth: 0 deg"}}, "peat-bog.yaml");
  REQUIRE(found.size() == 1);
  CHECK(found[0].parts == std::vector<std::string>{"panel-east", "panel-south", "panel-west"});
}

TEST_CASE("offsets from UTC of real places") {
  // Standard times as of 2024, from memory: the far ends of civil time.
  CHECK(fits(-8.7, 1));  // the west end of Central European Time
  CHECK(fits(-5, 0));
  CHECK(fits(23, 2));
  CHECK(fits(-64.8, -3));  // the west of the zone of -3 h
  CHECK(fits(77, 5.5));
  CHECK(fits(-157, 14));  // beyond the date line
  CHECK(fits(-171, 13));
  CHECK(fits(178, 12));
  CHECK(fits(116, 8));
  CHECK_FALSE(fits(-88, 6));
  CHECK_FALSE(fits(-105, 0));
  CHECK_FALSE(fits(150, -10));
}

TEST_CASE("an offset of the wrong sign has its own words, and so have times in UTC") {
  const DesignFinding sign = review_site(at(-88, 6)).front();
  CHECK(sign.rule == "site-offset-far-from-longitude");
  CHECK(sign.text ==
        "the site's utc_offset of 6 h does not go with its longitude of -88 deg, whose own time is -5.9 h from UTC: "
        "noon by the clock is 11.9 h before the sun's; with the other sign it would: east of Greenwich both are "
        "positive, west of it both negative");
  CHECK(sign.suggestion == "utc_offset: -6 h or longitude: 88 deg, whichever has the wrong sign");
  const DesignFinding utc = review_site(at(-105, 0)).front();
  CHECK(utc.text ==
        "the site's utc_offset of 0 h does not go with its longitude of -105 deg, whose own time is -7.0 h from UTC: "
        "noon by the clock is 7 h before the sun's; days and local times of the results are then UTC's");
}

TEST_CASE("the review with weather holds that of the netlist too") {
  const test::WorkingFolder folder;
  const Scenario s = read_scenario(folder.write(
      "edited.yaml",
      test::shipped("findings/panel-away-from-equator.yaml",
                    {{"lines:\n  cell-temperature: {from: cell.temperature, to: charger.temperature}\n", ""}})));
  std::vector<std::string> rules;
  for (const DesignFinding& f : review(s, weather_of(s, std::nullopt))) rules.push_back(f.rule);
  CHECK(rules == std::vector<std::string>{"charges-in-frost", "panel-away-from-equator"});
}
