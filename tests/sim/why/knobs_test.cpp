#include "sim/why/knobs.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <set>

#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/units_text.hpp"
#include "tests/support/model_of.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

const std::string better = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml";

const Knob& named(const std::vector<Knob>& all, const std::string& name) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const Knob& k) { return k.name == name; });
  REQUIRE_MESSAGE(found != all.end(), name);
  return *found;
}

}  // namespace

TEST_CASE("every knob can be turned by what --set takes, and by nothing but what it says") {
  const Scenario scenario = read_scenario(better);
  for (const Knob& k : knobs_of(scenario, nullptr)) {
    CAPTURE(k.name);
    if (k.choice) continue;
    CHECK(k.now != 0);
    CHECK(k.bound != k.now);
    if (k.name == "logger.brownout_threshold") continue;  // stands at the lower end of the supply range
    CHECK(!k.unit.empty());
    double near = k.now + 0.01 * (k.bound - k.now);
    if (k.step > 0) near = k.step * std::round(near / k.step);
    const auto set = k.set(near);
    REQUIRE(!set.empty());
    const Scenario turned = read_scenario(better, set);
    CHECK(turned.overrides.size() == set.size());
    const auto again = knobs_of(turned, nullptr);
    CHECK(named(again, k.name).now == doctest::Approx(near).epsilon(1e-5));
    for (const Knob& other : knobs_of(scenario, nullptr)) {
      if (other.name == k.name || other.choice || other.kind == "panel" || other.kind == "policy") continue;
      CHECK(named(again, other.name).now == doctest::Approx(other.now));
    }
  }
}

TEST_CASE("all kinds are there") {
  const auto all = knobs_of(read_scenario(better), nullptr);
  for (const char* name : {"boost.output_capacitance", "cell.capacity", "all panels (rated power)",
                           "panel-south (rated power)", "lead.resistance", "monitor.shunt", "guard.resistance",
                           "cell (series resistance and pairs)", "reservoir.capacitance", "boost.lockout",
                           "guard.overdischarge_voltage", "logger.brownout_threshold", "logger.phases[send].current",
                           "logger.phases[send].duration", "radio.power", "probe.current", "policy.table[4].every"}) {
    named(all, name);
  }
  for (const Knob& k : all) CHECK(k.name.find("pull-up") == std::string::npos);
}

TEST_CASE("panels together, and the cell's resistances") {
  const Scenario scenario = read_scenario(better);
  const auto all = knobs_of(scenario, nullptr);
  const Knob& panels = named(all, "all panels (rated power)");
  CHECK(panels.now == doctest::Approx(3 * 0.6));  // three panels of 6 V, 100 mA
  const Scenario twice = read_scenario(better, panels.set(3.6));
  for (const char* name : {"panel-south", "panel-east", "panel-west"}) {
    CHECK(test::model_of<Panel>(twice, name).parameters().label_current->si() == doctest::Approx(0.2));
  }
  const Knob& cell = named(all, "cell (series resistance and pairs)");
  const CellParameters before = test::model_of<Cell>(scenario, "cell").parameters();
  const CellParameters after = test::model_of<Cell>(read_scenario(better, cell.set(cell.now / 2)), "cell").parameters();
  for (const double charge : {0.0, 0.05, 0.5, 1.0}) {
    CHECK(after.series_resistance(charge) == doctest::Approx(before.series_resistance(charge) / 2).epsilon(1e-5));
    CHECK(after.pair_1_resistance(charge) == doctest::Approx(before.pair_1_resistance(charge) / 2).epsilon(1e-5));
    CHECK(after.pair_2_resistance(charge) == doctest::Approx(before.pair_2_resistance(charge) / 2).epsilon(1e-5));
  }
}

TEST_CASE("the policy's row in force, wherever it stands in the file") {
  Snapshot moment;
  moment.interval = 12 * 3600;
  const auto all = knobs_of(read_scenario(better), &moment);
  const Knob& every = named(all, "policy.table[2].every");
  CHECK(every.now == doctest::Approx(in_unit(12 * 3600, unit_of<Duration>(every.unit))));
  const Knob& below = named(all, "policy.table[2].below");
  CHECK(below.now == doctest::Approx(3.80));
  CHECK(below.bound == doctest::Approx(3.949));  // short of the next row's

  const auto within = knobs_of(read_scenario(better), &moment, 10 * 86400.0);
  CHECK(named(within, "policy.table[2].every").bound ==
        doctest::Approx(in_unit(7 * 86400.0, unit_of<Duration>(every.unit))));
  const auto close = knobs_of(read_scenario(better), &moment, 86400.0);
  CHECK(named(close, "policy.table[2].every").bound < in_unit(86400.0, unit_of<Duration>(every.unit)));
  for (const Knob& k : knobs_of(read_scenario(better), &moment, 3600.0)) CHECK(k.name != "policy.table[2].every");

  const std::vector<Override> other_way{
      {"policy.table", "[{below: 3.95 V, every: 6 h}, {below: 3.80 V, every: 12 h}, {every: 2 h}]"}};
  moment.interval = 6 * 3600;
  named(knobs_of(read_scenario(better, other_way), &moment), "policy.table[1].every");
}

TEST_CASE("a knob's value takes the place of an earlier override of the same path") {
  const auto all =
      merged({{"cell.charge", "50 %"}, {"cell.capacity", "3 Ah"}}, {{"cell.capacity", "4 Ah"}, {"a.b", "1"}});
  REQUIRE(all.size() == 3);
  CHECK(all[1].value == "4 Ah");
  CHECK(all[2].path == "a.b");
}

TEST_CASE("flags and choices of the tables, but for those that say how a part is computed") {
  const Scenario scenario = read_scenario(better);
  std::multiset<std::string> names;
  for (const Knob& k : knobs_of(scenario, nullptr)) {
    if (!k.choice) continue;
    CAPTURE(k.name);
    names.insert(k.name);
    CHECK(k.kind == "choice");
    CHECK(k.choice->now != k.choice->instead);
    const auto set = k.set(0);
    REQUIRE(set.size() == 1);
    CHECK(set[0].path == k.name);
    CHECK(set[0].value == k.choice->instead);
  }
  CHECK(names.count("logger.clears_flag") == 1);
  CHECK(names.count("logger.brownout_detector") == 0);  // it is on: to switch it off mends nothing
  CHECK(names.count("logger.counts_from") == 2);
  CHECK(names.count("boost.output_disconnect") == 1);
  CHECK(names.count("guard.release") == 1);
  CHECK(names.count("clock.alarm_match") == 5);
  CHECK(names.count("panel-south.sky") == 0);
  CHECK(names.count("radio.kind") == 0);

  const auto all = knobs_of(scenario, nullptr);
  const Knob& disconnect = named(all, "boost.output_disconnect");
  const bool now = test::model_of<Boost>(scenario, "boost").parameters().output_disconnect;
  CHECK(disconnect.choice->now == (now ? "true" : "false"));
  CHECK(test::model_of<Boost>(read_scenario(better, disconnect.set(0)), "boost").parameters().output_disconnect != now);
}

TEST_CASE("a brown-out detector may be switched on") {
  const Scenario off = read_scenario(better, {{"logger.brownout_detector", "false"}});
  CHECK(named(knobs_of(off, nullptr), "logger.brownout_detector").choice->instead == "true");
}

TEST_CASE("who can make a change") {
  const auto all = knobs_of(read_scenario(better), nullptr);
  for (const char* name : {"cell.capacity", "all panels (rated power)", "lead.resistance", "monitor.shunt",
                           "reservoir.capacitance", "radio.power"})
    CHECK(named(all, name).remedy() == Remedy::built);
  for (const char* name : {"logger.phases[send].current", "logger.phases[send].duration", "policy.table[4].every",
                           "logger.clears_flag", "logger.counts_from", "clock.alarm_match"})
    CHECK(named(all, name).remedy() == Remedy::firmware);
  for (const char* name :
       {"boost.lockout", "guard.overdischarge_voltage", "logger.brownout_threshold", "guard.resistance",
        "cell (series resistance and pairs)", "boost.output_disconnect", "guard.release"})
    CHECK(named(all, name).remedy() == Remedy::datasheet);
}

TEST_CASE("phases of a part class are set as a whole list, those that the command line gave by themselves") {
  const test::Scratch scratch;
  scratch.write(
      "own.yaml",
      "own-logger:\n  model: controller\n  minimum_supply: 2.7 V\n  maximum_supply: 5.5 V\n"
      "  brownout_threshold: 4.3 V\n  boot_time: 80 ms\n  boot_current: 6 mA\n  idle_current: 1.5 mA\n  phases:\n"
      "    - {name: measure, duration: 2 s, current: 9 mA}\n"
      "    - {name: send, duration: 5 s, current: 30 mA, out_1: true}\n");
  std::ifstream file(std::string(OVERWINTER_SOURCE) + "/scenarios/mechanisms/protector-trip.yaml");
  std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  const std::size_t from = text.find("  logger:\n"), to = text.find("  radio: {");
  text.replace(from, to - from, "  logger: {part: own-logger}\n");
  const std::string weather = "../peat-bog.epw";
  text.replace(text.find(weather), weather.size(), std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.epw");
  text.insert(text.find("parts:\n"), "part_files: [own.yaml]\n");
  const std::string path = scratch.write("own-scenario.yaml", text);

  const Scenario scenario = read_scenario(path);
  const auto all = knobs_of(scenario, nullptr);
  const Knob& current = named(all, "logger.phases[send].current");
  CHECK(current.now == doctest::Approx(30));
  const auto set = current.set(12);
  REQUIRE(set.size() == 1);
  CHECK(set[0].path == "logger.phases");
  const auto before = test::model_of<Controller>(scenario, "logger").parameters().phases;
  const auto after = test::model_of<Controller>(read_scenario(path, set), "logger").parameters().phases;
  REQUIRE(after.size() == before.size());
  CHECK(after[1].current->si() == doctest::Approx(12e-3));
  CHECK(after[1].duration == before[1].duration);
  CHECK(after[1].out_1);
  CHECK(after[0].current->si() == before[0].current->si());
  CHECK(named(knobs_of(read_scenario(path, set), nullptr), "logger.phases[send].duration").set(4).front().path ==
        "logger.phases[send].duration");
}
