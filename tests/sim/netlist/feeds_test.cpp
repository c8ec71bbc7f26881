#include "sim/netlist/feeds.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

Scenario instrument(const std::vector<std::pair<std::string, std::string>>& edits) {
  const test::WorkingFolder folder;
  return read_scenario(folder.write("edited.yaml", test::shipped("peat-bog-better.yaml", edits)));
}

std::size_t part(const Scenario& s, const std::string& name) {
  const auto found =
      std::find_if(s.parts.begin(), s.parts.end(), [&](const ScenarioPart& p) { return p.name == name; });
  REQUIRE(found != s.parts.end());
  return static_cast<std::size_t>(found - s.parts.begin());
}

}  // namespace

TEST_CASE("what carries a supply joins nets; converters, diodes, pull-ups and the reference do not") {
  const Scenario s = instrument({});
  const Feeds feeds(s, Feeds::Through::protectors);
  const auto of = [&](const std::string& name, const std::string& pin) { return feeds.of(part(s, name), pin); };
  CHECK(feeds.is_cell(of("cell", "plus")));
  CHECK(feeds.is_cell(of("charger", "out")));  // through the lead and the protector
  CHECK(feeds.is_cell(of("boost", "in")));     // and through the shunt
  CHECK_FALSE(feeds.is_cell(of("boost", "out")));
  CHECK_FALSE(feeds.is_cell(of("charger", "in")));
  CHECK(of("radio", "plus") == of("boost", "out"));  // through the switch
  CHECK(of("clock", "interrupt") != of("boost", "out"));
  CHECK(of("panel-south", "plus") != of("charger", "in"));
  CHECK(feeds.on_ground(part(s, "cell"), "minus"));
  CHECK_FALSE(feeds.on_ground(part(s, "cell"), "plus"));

  const Feeds bare(s, Feeds::Through::wires);
  CHECK(bare.is_cell(bare.of(part(s, "guard"), "cell")));
  CHECK_FALSE(bare.is_cell(bare.of(part(s, "guard"), "pack")));
}

TEST_CASE("how high a supply comes, and how low the cell goes") {
  const Scenario s = instrument({});
  const Feeds feeds(s, Feeds::Through::protectors);
  const auto rail = feeds.supply(feeds.of(part(s, "logger"), "supply"));
  REQUIRE(rail.has_value());
  CHECK(rail->highest.si() == 5);
  CHECK(rail->text == "boost holds it at 5 V");
  CHECK(feeds.supply(feeds.of(part(s, "boost"), "in"))->text == "cell is full at 4.2 V");
  CHECK_FALSE(feeds.supply(feeds.of(part(s, "charger"), "in")).has_value());
  CHECK(feeds.cell_at_its_lowest()->text == "guard cuts cell off at 2.8 V");

  const Scenario other = instrument({{"charger-linear-100ma}", "charger-linear-100ma, charge_voltage: 4.25 V}"}});
  CHECK(Feeds(other, Feeds::Through::protectors).cell_at_its_highest()->text == "charger charges cell to 4.25 V");

  const Scenario unguarded = instrument({{"  guard: {part: protector-2a5-voltage}\n", ""},
                                         {"guard.pack, ", ""},
                                         {"  guarded+: [guard.cell, lead.a]\n", ""},
                                         {"pack+: [", "pack+: [lead.a, "},
                                         {"guard.ground, ", ""}});
  CHECK(Feeds(unguarded, Feeds::Through::protectors).cell_at_its_lowest()->text == "cell is empty at 2.7027 V");
}
