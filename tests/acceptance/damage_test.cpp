// scenarios/damage: each kind of damage by a scenario that does it, and one that does not, against hand arithmetic and
// the rules of the trade.
#include <doctest/doctest.h>
#include <sys/wait.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <set>
#include <string>

#include "models/converters/boost.hpp"
#include "models/storage/cell.hpp"
#include "sim/replay/replay.hpp"
#include "tests/support/model_of.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

using Json = nlohmann::ordered_json;

const fs::path folder = fs::path(OVERWINTER_SOURCE) / "scenarios" / "damage";

std::string file_of(const std::string& name) { return (folder / (name + ".yaml")).string(); }

/// Each is run once, however many cases look at it.
const ReplayResult& run(const std::string& name) {
  static std::map<std::string, ReplayResult> known;
  const auto at = known.find(name);
  if (at != known.end()) return at->second;
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  return known[name] = replay(read_scenario(file_of(name)), options);
}

ReplayResult run_edited(const std::string& name, const std::vector<Override>& set) {
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  return replay(read_scenario(file_of(name), set), options);
}

const std::map<std::string, std::pair<std::string, std::string>> kinds = {
    {"over-volted", {"logger", "supply above range"}},
    {"cell-below-empty", {"cell", "below empty"}},
    {"cell-overcharged", {"cell", "charged above limit"}},
    {"charged-in-frost", {"cell", "charged too cold"}}};

/// The only damage of the scenario that does it.
Json damage_of(const std::string& name) {
  const Json& all = run(name).summary.at("damage").at("all");
  REQUIRE(all.size() == 1);
  return all[0];
}

double number(const Json& record, const char* key) { return record.at(key).get<double>(); }

}  // namespace

TEST_CASE("damage: every scenario of the folder is one of a pair") {
  std::set<std::string> names, expected;
  for (const auto& entry : fs::directory_iterator(folder)) names.insert(entry.path().stem().string());
  for (const auto& [name, kind] : kinds) {
    expected.insert(name);
    expected.insert(name + "-not");
  }
  CHECK(names == expected);
}

TEST_CASE("damage: the one does exactly its kind and fails, the other none and holds") {
  for (const auto& [name, what] : kinds) {
    CAPTURE(name);
    const Json d = damage_of(name);
    CHECK(d.at("part") == what.first);
    CHECK(d.at("kind") == what.second);
    const ReplayResult& with = run(name);
    CHECK(with.survives == Held::no);
    CHECK(with.summary.at("verdict").at("text").get<std::string>().find("damage: " + d.at("text").get<std::string>()) !=
          std::string::npos);
    CHECK(with.summary.at("findings")[0].at("rule") == "damage");
    CHECK(with.summary.at("damage").at("count") == d.at("times"));
    CHECK(with.summary.at("damage").at("by_part").at(what.first) == d.at("times"));
    CHECK(with.summary.at("damage").at("by_kind").at(what.second) == d.at("times"));
    const ReplayResult& without = run(name + "-not");
    CHECK(without.summary.at("damage").at("count") == 0);
    CHECK(without.survives == Held::yes);
  }
}

TEST_CASE("over-volted: every wake, by the cell less the converter's rectifier") {
  const Json d = damage_of("over-volted");
  const Json& s = run("over-volted").summary;
  CHECK(d.at("times") == s.at("service").at("wakes_completed"));
  // 5 s of measuring, 80 ms of boot and what the store holds up when the wake is over.
  const double wakes = number(s.at("service"), "wakes_completed"), awake = number(d, "beyond_s") / wakes;
  CHECK(awake > 5.08);
  CHECK(awake < 5.6);
  // Hand arithmetic: a boost whose input is above its set point passes it on through its rectifier (common practice),
  // here 300 mV and 0.25 ohm at 8 mA; the protector's 50 mohm and the cell's some 0.1 ohm at 8 mA are 1 mV.
  const Scenario scenario = read_scenario(file_of("over-volted"));
  const double cell = test::model_of<Cell>(scenario, "cell").parameters().open_circuit_voltage(0.95);
  CHECK(number(d, "worst") == doctest::Approx(cell - 0.3).epsilon(0.01));
  CHECK(number(d, "limit") == doctest::Approx(3.6));
  CHECK(d.at("unit") == "V");
}

TEST_CASE("cell-below-empty: when the charge over the current has passed") {
  const Json d = damage_of("cell-below-empty");
  // 10.1 % of 1200 mAh at 8 mA: 15.15 h, less the cell's own 3 % a month.
  CHECK(d.at("first").get<std::string>().substr(0, 14) == "2025-01-10T15:");
  CHECK(d.at("times") == 1);
  CHECK(number(d, "beyond_s") > 30 * 3600);
  CHECK(number(d, "worst") < -0.1);
  CHECK(number(d, "limit") == 0);
}

TEST_CASE("cell-overcharged: at most what the charger is set to, and not the tolerance of one that is right") {
  const Json d = damage_of("cell-overcharged");
  CHECK(number(d, "limit") == doctest::Approx(4.2));
  CHECK(number(d, "worst") > 4.25);
  CHECK(number(d, "worst") <= 4.351);
  // Chargers are accurate to 1 % (common practice): 4.24 V is no damage.
  CHECK(run_edited("cell-overcharged", {{"charger.charge_voltage", "4.24 V"}}).summary.at("damage").at("count") == 0);
  CHECK(run_edited("cell-overcharged", {{"cell.charge_limit", "4.35 V"}}).summary.at("damage").at("count") == 0);
}

TEST_CASE("charged-in-frost: lithium cells are not charged below 0 degC") {
  // The rule: common practice, and the lower end of the JEITA guideline's window (from memory).
  const Json d = damage_of("charged-in-frost");
  CHECK(number(d, "limit") == doctest::Approx(0).scale(1));
  CHECK(number(d, "worst") < -0.5);
  CHECK(d.at("unit") == "degC");
  // A cell that may be charged in frost, or no light to charge it with.
  CHECK(run_edited("charged-in-frost", {{"cell.charge_temperature_minimum", "-20 degC"}})
            .summary.at("damage")
            .at("count") == 0);
  CHECK(run_edited("charged-in-frost", {{"panel.transmittance", "0.1 %"}}).summary.at("damage").at("count") == 0);
}

TEST_CASE("damage that the scenario allows passes, and stands under the verdict as a warning") {
  const ReplayResult r =
      run_edited("charged-in-frost", {{"require", "{damage: {at_most: 1000}, lowest_charge: {at_least: 10 %}}"}});
  CHECK(r.survives == Held::yes);
  const Json& first = r.summary.at("findings")[0];
  CHECK(first.at("rule") == "damage");
  CHECK(first.at("text").get<std::string>().find("(the scenario allows 1000)") != std::string::npos);
}

TEST_CASE("a fault that is given and damages is damage") {
  const test::Scratch scratch;
  const auto code = [&](const std::string& options) {
    const int status = std::system((std::string(OVERWINTER_PROGRAM) + " run " + file_of("cell-overcharged-not") +
                                    options + " --out " + scratch.path("run") + " >/dev/null 2>&1")
                                       .c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  };
  CHECK(code("") == 0);
  CHECK(code(" --fault \"charger stuck-on at 2025-05-11\"") == 1);
}
