#include <doctest/doctest.h>

#include "models/catalogue.hpp"
#include "sim/netlist/part_classes.hpp"
#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

/// The findings about a cell on a charger behind a protector, and a panel.
std::vector<std::string> findings(const std::string& cell, const std::string& charger, const std::string& guard) {
  const test::WorkingFolder folder;
  folder.write("bog.epw", "");
  folder.write("bench.yaml", "span: {from: 2024-10-15, to: 2024-10-20}\nweather: {file: bog.epw}\nparts:\n  cell: {" +
                                 cell + "}\n  charger: {" + charger + "}\n  guard: {" + guard +
                                 "}\n  panel: {part: panel-6v-100ma, tilt: 70 deg, azimuth: 180 deg}\n"
                                 "nets:\n"
                                 "  sun: [panel.plus, charger.in]\n"
                                 "  pack+: [charger.out, guard.pack]\n"
                                 "  cell+: [guard.cell, cell.plus]\n"
                                 "  gnd: [panel.minus, charger.ground, guard.ground, cell.minus]\n"
                                 "lines: {warmth: {from: cell.temperature, to: charger.temperature}}\n");
  std::vector<std::string> texts;
  for (const DesignFinding& f : review_charging(read_scenario("bench.yaml"))) texts.push_back(f.text);
  return texts;
}

using test::All;

const std::string nmc = "part: nmc-18650-3000mah", lfp = "part: lfp-18650-1500mah";
const std::string at_4_2 = "part: charger-linear-100ma", at_3_6 = "part: charger-linear-lfp-100ma";
const std::string for_nmc = "part: protector-2a5-voltage", for_lfp = "part: protector-2a5-lfp";

}  // namespace

TEST_CASE("chargers and protectors that fit the cell") {
  CHECK(findings(nmc, at_4_2, for_nmc).empty());
  CHECK(findings(lfp, at_3_6, for_lfp).empty());
  CHECK(findings(lfp, at_3_6 + ", charge_voltage: 3.65 V", for_lfp).empty());  // the limit itself is allowed
}

TEST_CASE("a charger above what the cell bears can start a fire") {
  const std::string fire = "overcharging a lithium cell can start a fire; follow the cell's datasheet";
  CHECK(findings(lfp, at_4_2, for_nmc) == All{"charger charges to 4.2 V, but cell bears no more than 3.65 V: " + fire});
  CHECK(findings(nmc, at_4_2 + ", charge_voltage: 4.25 V", for_nmc) ==
        All{"charger charges to 4.25 V, but cell bears no more than 4.2 V: " + fire});
  CHECK(findings(lfp + ", charge_limit: null", at_4_2, for_nmc).empty());  // its datasheet does not tell
}

TEST_CASE("a protector that trips before the charge is complete") {
  for (const std::string volts : {"4.2 V", "4.15 V"}) {
    CHECK(findings(nmc, at_4_2, for_nmc + ", overcharge_voltage: " + volts) ==
          All{"guard stops charging at " + volts +
              ", but charger charges to 4.2 V: it would trip at the end of every full charge"});
  }
  CHECK(findings(lfp, at_4_2, for_lfp).size() == 2);
}

TEST_CASE("a charger that charges in frost") {
  CHECK(test::sentences(review_charging, {}).empty());
  CHECK(test::sentences(review_charging,
                        {{"  cell-temperature: {from: cell.temperature, to: charger.temperature}\n", ""}}) ==
        All{"charger is not told the cell's temperature, so that it charges in frost too, which damages a lithium "
            "cell; try: a line {from: CELL.temperature, to: charger.temperature}"});
  const auto down_to = [](const std::string& limit) {
    return test::sentences(review_charging,
                           {{"charger-linear-100ma}", "charger-linear-100ma, cold_limit: " + limit + "}"}});
  };
  CHECK(down_to("-10 degC") ==
        All{"charger charges down to -10 degC: below 0 degC a charge plates lithium, which damages the cell for good; "
            "try: cold_limit: 0 degC, unless the cell's datasheet allows less"});
  CHECK(down_to("5 degC").empty());
}

TEST_CASE("a pre-charge that the loads take") {
  CHECK(
      test::sentences(review_charging, {}, "outcomes/needs-human.yaml") ==
      All{"charger: below 2.9 V it gives no more than 10 mA, and 12 mA are drawn from its output all the time (lamp 12 "
          "mA): a cell that is once empty is never charged again; try: a precharge_current well above 12 mA, or "
          "these loads behind a switch or on an enable line"});
  const auto with = [](const test::Edits& edits) {
    return test::sentences(review_charging, edits, "outcomes/needs-human.yaml");
  };
  CHECK(with({{"current: 12 mA, minimum_supply", "current: 9 mA, minimum_supply"}}).empty());
  CHECK(with({{"radio-on:", "lamp-on: {from: logger.out_2, to: lamp.enable}\n  radio-on:"},
              {"9 mA, out_1: true", "9 mA, out_1: true, out_2: true"}})
            .empty());
  CHECK(with({{"charger-linear-100ma}", "charger-linear-100ma, precharge_current: 20 mA}"}}).empty());
  // Behind the converter 6 mA at 5 V are 13 mA at 2.9 V.
  CHECK(with({{", lamp.plus]", "]"},
              {"rail: [", "rail: [lamp.plus, "},
              {"current: 12 mA, minimum_supply", "current: 6 mA, minimum_supply"}})
            .front()
            .find("and 13 mA are drawn from its output all the time (lamp 13 mA)") != std::string::npos);
}

TEST_CASE("every cell of the parts says what it bears") {
  for (const auto& [name, c] : PartLibrary::built_in().all()) {
    if (c.table != find_model("cell")) continue;
    CAPTURE(name);
    CHECK(c.entry->value.find("charge_limit"));
  }
}
