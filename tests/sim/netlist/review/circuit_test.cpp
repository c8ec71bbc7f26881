#include "sim/netlist/review/circuit.hpp"

#include <doctest/doctest.h>

#include "models/control/controller.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

Scenario logger() {
  const test::WorkingFolder folder;
  return read_scenario(folder.write("logger.yaml", test::shipped("peat-bog-better.yaml", {})));
}

std::size_t part(const Scenario& s, const std::string& name) {
  for (std::size_t p = 0; p < s.parts.size(); ++p) {
    if (s.parts[p].name == name) return p;
  }
  throw std::logic_error(name);
}

}  // namespace

TEST_CASE("what is powered while every switch is open") {
  const Scenario s = logger();
  const Circuit c(s);
  const auto at = [&](const char* name, const char* pin) { return c.range(c.net(part(s, name), pin)); };
  CHECK(at("boost", "in")->lowest.si() == doctest::Approx(2.8));
  CHECK(at("boost", "in")->highest.si() == doctest::Approx(4.2));
  CHECK(at("switch", "source")->lowest.si() == doctest::Approx(5));
  CHECK(c.name(at("switch", "source")->source) == "boost");
  CHECK_FALSE(at("logger", "supply"));
  CHECK_FALSE(at("diode-south", "cathode"));
}

TEST_CASE("the way from the cell") {
  const Scenario s = logger();
  const Circuit c(s);
  const auto way = c.from_cell(part(s, "boost"), "in");
  CHECK(way->resistance.si() == doctest::Approx(0.15 + 0.05 + 0.1));
  CHECK(way->parts == std::vector<std::string>{"lead", "guard", "monitor"});
  CHECK_FALSE(c.from_cell(part(s, "charger"), "in"));
}

TEST_CASE("what the loads take in each phase") {
  const Scenario s = logger();
  const Circuit c(s);
  const auto all = c.bursts(part(s, "boost"));
  REQUIRE(all.size() == 4);
  CHECK(all[0].phase == "boot");
  CHECK(all[0].power.si() == doctest::Approx(5 * (9e-3 + 0.7e-3)));
  CHECK(all[1].power.si() == doctest::Approx(5 * (9e-3 + 16e-3 + 0.7e-3)));
  CHECK(all[3].phase == "send");
  CHECK(all[3].power.si() == doctest::Approx(5 * (9e-3 + 0.7e-3) + 1.5));
  CHECK(all[3].duration.si() == doctest::Approx(80));
  CHECK(c.largest_burst(part(s, "boost")).phase == "send");
}

TEST_CASE("what is drawn while the instrument sleeps") {
  const Scenario s = logger();
  const Circuit c(s);
  const Voltage v{3.7};
  const auto drains = c.drains(c.net(part(s, "cell"), "plus"), v);
  // Boost 15 uA and its divider's 12.5 uW at 58 % and 3.7 V, clock 1.5 uA, protector 4 uA, charger 2 uA.
  CHECK(sum(drains).si() == doctest::Approx(15e-6 + 12.5e-6 / 0.58 / 3.7 + 1.5e-6 + 4e-6 + 2e-6).epsilon(1e-3));
  CHECK(listed(drains) == "boost 15 uA, boost's divider 5.8 uA, guard 4 uA, charger 2 uA, clock 1.5 uA");
}

TEST_CASE("the cell's resistance") {
  const Scenario s = logger();
  const Cell& cell = *as<Cell>(s.parts[part(s, "cell")]);
  CHECK(series_resistance(cell, 0.5, celsius(25)).si() == doctest::Approx(0.046));
}
