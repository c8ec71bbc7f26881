#include "sim/netlist/overrides.hpp"

#include <doctest/doctest.h>

#include "models/control/controller.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "tests/support/bench_scenario.hpp"
#include "tests/support/model_of.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;

namespace {

const std::string bog = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.yaml";
const std::string better = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml";

Scenario with(const std::string& file, const std::vector<std::string>& texts) {
  std::vector<Override> overrides;
  for (const std::string& text : texts) overrides.push_back(parse_override(text));
  return read_scenario(file, overrides);
}

}  // namespace

TEST_CASE("an override splits at its first =") {
  const Override o = parse_override("scenario=a = b");
  CHECK(o.path == "scenario");
  CHECK(o.value == "a = b");
  CHECK_THROWS_AS(parse_override("cell.capacity"), InputError);
  CHECK_THROWS_AS(parse_override("=4 Ah"), InputError);
  CHECK_THROWS_AS(parse_override("cell.capacity= "), InputError);
}

TEST_CASE("a part's key stands before the part class, a key of the file before itself") {
  const Scenario s = with(bog, {"cell.capacity=4 Ah", "cell.charge=55 %"});
  const CellParameters& cell = test::model_of<Cell>(s, "cell").parameters();
  CHECK(cell.capacity.si() == doctest::Approx(4 * 3600));
  CHECK(cell.charge == doctest::Approx(0.55));
  REQUIRE(s.overrides.size() == 2);
  CHECK(!s.overrides[0].was);
  CHECK(s.overrides[1].was == std::optional<std::string>("80 %"));
  CHECK(s.overrides[1].value == "55 %");
}

TEST_CASE("rows by number from 1 and by name") {
  const Scenario s = with(better, {"logger.phases[send].duration=20 s", "logger.phases[1].current=7 mA",
                                   "policy.table[2].every=36 h", "policy.hysteresis=100 mV"});
  const ControllerParameters& logger = test::model_of<Controller>(s, "logger").parameters();
  CHECK(logger.phases[2].duration.si() == 20);
  CHECK(logger.phases[0].current->si() == doctest::Approx(7e-3));
  CHECK(logger.phases[2].current->si() == doctest::Approx(9e-3));
  CHECK(s.policy->rows()[1].every.si() == 36 * 3600);
  CHECK(s.policy->rows()[0].every.si() == 24 * 3600);
  CHECK(s.policy->hysteresis().si() == doctest::Approx(0.1));
}

TEST_CASE("sections: a key, a whole one, and one that the file does not have") {
  const Scenario s = with(bog, {"site.latitude=58 deg", "policy={every: 5 h}", "span.to=2024-11-02"});
  CHECK(s.site->latitude / units::degree == doctest::Approx(58));
  CHECK(s.policy->longest_interval().si() == 5 * 3600);
  CHECK(iso(s.to) == "2024-11-02");

  const test::WorkingFolder folder;
  folder.write("bog.epw", "");
  folder.write("bench.yaml", test::bench_scenario);
  const Scenario bench = with("bench.yaml", {"require.lowest_charge.at_least=30 %"});
  REQUIRE(bench.requirements.size() == 2);
  CHECK(bench.requirements[1].name == "lowest_charge");
  CHECK(bench.requirements[1].limit == doctest::Approx(0.3));
}

TEST_CASE("null restores the default of a key that the file gives") {
  CHECK(test::model_of<Cell>(with(bog, {"cell.charge=null"}), "cell").parameters().charge == CellParameters{}.charge);
}

TEST_CASE("what is read with overrides is what an edited file says") {
  const Scenario set = with(bog, {"lead.resistance=0.3 ohm", "logger.phases[store].current=20 mA"});
  const test::WorkingFolder folder;
  folder.write("edited.yaml", test::shipped("peat-bog.yaml", {{"resistance: 0.15 ohm", "resistance: 0.3 ohm"},
                                                              {"current: 14 mA", "current: 20 mA"}}));
  const Scenario edited = read_scenario("edited.yaml");
  REQUIRE(set.parts.size() == edited.parts.size());
  for (std::size_t p = 0; p < set.parts.size(); ++p) {
    CHECK(set.parts[p].name == edited.parts[p].name);
    CHECK(set.parts[p].table == edited.parts[p].table);
  }
  CHECK(test::model_of<Controller>(set, "logger").parameters().phases[1].current->si() ==
        test::model_of<Controller>(edited, "logger").parameters().phases[1].current->si());
}
