#include "sim/engine/diagram.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("parts and nets stand in name order whatever the scenario's order") {
  Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-harvest.yaml");
  const Diagram straight(s);
  std::reverse(s.nets.begin(), s.nets.end());
  for (ScenarioNet& net : s.nets) std::reverse(net.pins.begin(), net.pins.end());
  const Diagram turned(s);
  CHECK(std::is_sorted(straight.nets().begin(), straight.nets().end()));
  CHECK(straight.nets() == turned.nets());
  REQUIRE(straight.parts().size() == turned.parts().size());
  for (std::size_t p = 0; p < straight.parts().size(); ++p) {
    CHECK(straight.parts()[p].name == turned.parts()[p].name);
    CHECK(straight.parts()[p].nets == turned.parts()[p].nets);
    if (p > 0) CHECK(straight.parts()[p - 1].name < straight.parts()[p].name);
  }
}

TEST_CASE("every panel's harvest is decided by the charger behind its diode") {
  const Diagram d(read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-harvest.yaml"));
  REQUIRE(d.harvest().size() == 3);
  for (const HarvestLink& link : d.harvest()) {
    CHECK(d.parts()[link.source_part].table->name == "panel");
    REQUIRE(link.deciding_part >= 0);
    CHECK(d.parts()[static_cast<std::size_t>(link.deciding_part)].name == "charger");
  }
  REQUIRE(d.lines().size() == 1);
  CHECK(d.parts()[d.lines()[0].part].name == "cell");
}

TEST_CASE("every entry of the network vector has a name of its own") {
  const Diagram d(read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-harvest.yaml"));
  std::vector<std::string> names;
  for (std::size_t i = 0; i < d.unknowns(); ++i) names.push_back(d.unknown_name(i));
  CHECK(std::find(names.begin(), names.end(), "panel-south junction") != names.end());
  std::sort(names.begin(), names.end());
  CHECK(std::adjacent_find(names.begin(), names.end()) == names.end());
  CHECK(names.front() != "");
}
