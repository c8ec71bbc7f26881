// Every scenario of scenarios/findings as `check` and `run` review it: NAME.yaml has the finding NAME and no other,
// NAME-not.yaml has none. What the findings say is held against simulations and public weather files.
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <vector>

#include "sim/replay/replay.hpp"
#include "sim/weather/epw.hpp"
#include "sim/weather/review.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

using Json = nlohmann::ordered_json;

const fs::path scenarios = fs::path(OVERWINTER_SOURCE) / "scenarios";

std::vector<std::string> rules(const std::string& path) {
  const Scenario scenario = read_scenario(path);
  std::vector<std::string> all;
  for (const DesignFinding& f : review(scenario, weather_of(scenario, std::nullopt))) all.push_back(f.rule);
  return all;
}

std::vector<std::string> yaml_files(const fs::path& folder) {
  std::vector<std::string> all;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() == ".yaml") all.push_back(entry.path().string());
  }
  return all;
}

Json summary_of(const std::string& text) {
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  return replay(read_scenario(scratch.write("edited.yaml", text)), options).summary;
}

/// peat-bog.epw as if it were in another time zone: only its header says so.
std::string in_zone(const std::string& hours, const test::Scratch& scratch) {
  std::ifstream file(scenarios / "peat-bog.epw", std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  const std::string place = ",56.0000,-5.0000,0.00,";
  const std::size_t at = text.find(place);
  REQUIRE(at != std::string::npos);
  text.replace(at, place.size(), ",56.0000,-5.0000," + hours + ",");
  return scratch.write("moved.epw", text);
}

}  // namespace

TEST_CASE("findings: each has a scenario that shows it and one that does not") {
  const std::set<std::string> wanted = {"gate-drive-below-datasheet",
                                        "panel-away-from-equator",
                                        "site-offset-far-from-longitude",
                                        "radiation-columns-do-not-close",
                                        "clock-jumps",
                                        "decoupling-missing"};
  std::set<std::string> seen;
  for (const std::string& path : yaml_files(scenarios / "findings")) {
    CAPTURE(path);
    const std::string name = fs::path(path).stem().string();
    const bool removed = name.size() > 4 && name.compare(name.size() - 4, 4, "-not") == 0;
    CHECK(rules(path) == (removed ? std::vector<std::string>{} : std::vector<std::string>{name}));
    CHECK(fs::exists(scenarios / "findings" / ((removed ? name.substr(0, name.size() - 4) : name + "-not") + ".yaml")));
    if (!removed) seen.insert(name);
  }
  CHECK(seen == wanted);
}

TEST_CASE("findings: no shipped scenario has one that it is not about") {
  for (const char* folder : {".", "outcomes", "mechanisms"}) {
    for (const std::string& path : yaml_files(scenarios / folder)) {
      CAPTURE(path);
      for (const std::string& rule : rules(path)) {
        CHECK(rule != "gate-drive-below-datasheet");
        CHECK(rule != "panel-away-from-equator");
        CHECK(rule != "site-offset-far-from-longitude");
        CHECK(rule != "radiation-columns-do-not-close");
        CHECK(rule != "clock-jumps");
        CHECK(rule != "decoupling-missing");
      }
    }
  }
}

TEST_CASE("gate-drive-below-datasheet: at the upper limit of the threshold the instrument is dead") {
  const std::string name = "findings/gate-drive-below-datasheet.yaml";
  const auto wakes = [&](std::vector<std::pair<std::string, std::string>> edits) {
    return summary_of(test::shipped(name, std::move(edits))).at("service").at("wakes_completed").get<int>();
  };
  const std::pair<std::string, std::string> upper = {"p-switch-standard-120mohm, ",
                                                     "p-switch-standard-120mohm, threshold: 3 V, "};
  CHECK(wakes({}) > 0);
  CHECK(wakes({upper}) == 0);
  // A logic-level one at its own upper limit, 1 V, which its class states.
  CHECK(wakes({{"p-switch-standard-120mohm, ", "p-switch-logic-30mohm, threshold: 1 V, "}}) > 0);
}

TEST_CASE("panel-away-from-equator: the light that is told is the light of the runs") {
  // The panel's own plane_irradiance, summed; the cover's losses and the diode's are the same on both sides.
  const std::string name = "findings/panel-away-from-equator";
  const auto harvest = [&](const std::string& file) {
    return summary_of(test::shipped(file, {})).at("energy").at("harvest_offered_J").get<double>();
  };
  CHECK(harvest(name + ".yaml") < 0.7 * harvest(name + "-not.yaml"));
}

TEST_CASE("radiation-columns-do-not-close: station files, and the zone that makes one close") {
  const test::Scratch scratch;
  CHECK(read_epw((scenarios / "peat-bog.epw").string()).findings.empty());
  for (const char* hours : {"0.50", "-1.00", "6.00"}) {
    CAPTURE(hours);
    const std::vector<DesignFinding> found = read_epw(in_zone(hours, scratch)).findings;
    REQUIRE(found.size() == 1);
    CHECK(found[0].rule == "radiation-columns-do-not-close");
    CHECK(found[0].suggestion.find("0 in field 9 of LOCATION") == 0);
  }
  // Two public typical years, where they are at hand.
  const fs::path stations = fs::path(OVERWINTER_SOURCE) / "../shared/reference/weather";
  if (!fs::exists(stations)) {
    MESSAGE("skipped: no public weather files at " << stations.string());
    return;
  }
  for (const char* file : {"chicago_il_725300_tmy3.epw", "denver_co_725650_tmy3_wd100.epw"}) {
    CAPTURE(file);
    CHECK(read_epw((stations / file).string()).findings.empty());
  }
}
