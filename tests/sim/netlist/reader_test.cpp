#include <doctest/doctest.h>

#include <algorithm>

#include "models/catalogue.hpp"
#include "sim/netlist/scenario.hpp"
#include "tests/support/bench_scenario.hpp"

using namespace overwinter;
using test::Edits;
using test::fault;

namespace {

Scenario read(const Edits& edits) {
  const test::WorkingFolder folder;
  folder.write("bog.epw", "");
  folder.write("own.yaml", "bleeder: {model: resistor, resistance: 10 kohm}\n");
  folder.write("bench.yaml", test::edited(edits));
  return read_scenario("bench.yaml");
}

/// The first line of the first fault, without the file's name, and how many faults there are.
std::string first(const Edits& edits) {
  const std::string text = fault(edits);
  const std::size_t begin = std::string("\nbench.yaml:").size();
  const auto more = [&] {
    int count = 0;
    for (std::size_t at = text.find("\n\n"); at != std::string::npos; at = text.find("\n\n", at + 1)) ++count;
    return count;
  }();
  if (text.empty()) return {};
  return text.substr(begin, text.find('\n', begin) - begin) + (more ? " and " + std::to_string(more) + " more" : "");
}

}  // namespace

TEST_CASE("a scenario") {
  const Scenario s = read({});
  CHECK(s.path == "bench.yaml");
  CHECK(s.title == "bench supply of a small load");
  CHECK_FALSE(s.site.has_value());
  CHECK(iso(s.from) == "2024-10-15");
  CHECK(iso(s.to) == "2024-10-20");
  CHECK(s.weather_file == "bog.epw");
  CHECK(s.weather_place.line == 3);
  CHECK(s.weather_place.column == 17);
  REQUIRE(s.parts.size() == 2);
  CHECK(s.parts[0].name == "cell");
  CHECK(s.parts[0].part_class == "nmc-18650-3000mah");
  CHECK(s.parts[0].table == find_model("cell"));
  CHECK(&s.parts[1].model->table() == find_model("resistor"));
  CHECK(s.parts[1].place.line == 6);
  CHECK(s.nets.size() == 2);
  CHECK(s.nets[0].name == "cell+");
  CHECK(s.lines.empty());
  REQUIRE(s.inputs.size() == 1);
  CHECK(s.inputs[0].text == test::bench_scenario);
}

TEST_CASE("optional sections") {
  const Scenario s =
      read({{"scenario: bench supply of a small load\n", ""},
            {"span:", "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0}\nspan:"},
            {"parts:\n", "part_files: [own.yaml]\nparts:\n"},
            {"{model: resistor, resistance: 10 kohm}", "{part: bleeder}"}});
  CHECK(s.title == "bench");
  CHECK(s.site->latitude.si() == doctest::Approx(56 * pi / 180).epsilon(1e-15));
  CHECK(s.site->albedo == 0.2);
  CHECK(s.parts[1].part_class == "bleeder");
  REQUIRE(s.inputs.size() == 2);
  CHECK(s.inputs[1].path == "own.yaml");
}

TEST_CASE("files are sought from the scenario's folder") {
  const test::WorkingFolder folder;
  std::filesystem::create_directories("deep/down");
  folder.write("bog.epw", "");
  folder.write("deep/own.yaml", "bleeder: {model: resistor, resistance: 1 ohm}\n");
  folder.write("deep/down/bench.yaml",
               test::edited({{"bog.epw", "../../bog.epw"}, {"parts:\n", "part_files: [../own.yaml]\nparts:\n"}}));
  const Scenario s = read_scenario("deep/down/bench.yaml");
  CHECK(s.weather_file == "bog.epw");
  CHECK(s.inputs[1].path == "deep/own.yaml");
}

TEST_CASE("the order of the file does not matter") {
  const auto text = [](const Scenario& s) {
    std::string all;
    for (const ScenarioPart& part : s.parts) all += part.name + " ";
    for (const ScenarioNet& net : s.nets) {
      all += net.name + ":";
      for (const PinRef pin : net.pins) all += std::to_string(pin.part) + "." + std::to_string(pin.pin) + " ";
    }
    return all;
  };
  const std::string cell = "  cell: {part: nmc-18650-3000mah, charge: 80 %}\n", gnd = "  gnd: [cell.minus, drain.b]\n";
  CHECK(text(read({})) == text(read({{cell, ""},
                                     {"nets:", cell + "nets:"},
                                     {gnd, ""},
                                     {"nets:\n", "nets:\n" + gnd},
                                     {"cell.plus, drain.a", "drain.a, cell.plus"}})));
}

TEST_CASE("sections that are missing, empty or of the wrong kind") {
  CHECK(first({{"span: {from: 2024-10-15, to: 2024-10-20}\n", ""}}) == "1:1: the scenario has no span");
  CHECK(first({{"span: {from: 2024-10-15, to: 2024-10-20}", "span: ~"}}) == "2:1: span is empty");
  CHECK(first({{"span: {from: 2024-10-15, to: 2024-10-20}", "span: {}"}}) == "2:1: span is empty");
  CHECK(first({{"span: {from: 2024-10-15, to: 2024-10-20}", "span: 5 d"}}) == "2:7: span must be a mapping, not '5 d'");
  CHECK(first({{"bench supply of a small load", ""}}) == "1:1: scenario is empty");
  CHECK(first({{"bench supply of a small load", "[x]"}}) == "1:11: scenario must be text, not a list");
  CHECK(first({{"parts:\n", "part_files: own.yaml\nparts:\n"}}) == "4:13: part_files must be a list, not 'own.yaml'");
  CHECK(first({{"parts:\n", "part_files: []\nparts:\n"}}) == "4:1: part_files is empty");
  CHECK(first({{"nets:", "lines:\nnets:"}}) == "7:1: lines is empty");
  CHECK(first({{"nets:", "site:\nnets:"}}) == "7:1: site is empty");
  CHECK(first({{"  cell+: [cell.plus, drain.a]\n  gnd: [cell.minus, drain.b]\n", ""}}) == "7:1: nets is empty");
}

TEST_CASE("a misspelled section is not missing as well") {
  CHECK(first({{"weather:", "whether:"}}) == "3:1: a scenario has no key 'whether'");
  CHECK(first({{"nets:", "net:"}}) == "7:1: a scenario has no key 'net'");
}

TEST_CASE("the site") {
  const auto site = [](const std::string& text) { return first({{"span:", "site: {" + text + "}\nspan:"}}); };
  const std::string rest = "longitude: -5 deg, elevation: 400 m, utc_offset: 0 h";
  CHECK(site(rest) == "2:1: site lacks latitude");
  CHECK(site("latitude: 56 deg") == "2:1: site lacks longitude, elevation, utc_offset");
  CHECK(site("latitude: 91 deg, " + rest) == "2:18: '91 deg' is out of range: latitude must be from -90 deg to 90 deg");
  CHECK(site("lattitude: 56 deg, " + rest) == "2:8: site has no key 'lattitude'");
}

TEST_CASE("the span") {
  const auto span = [](const std::string& text) { return first({{"from: 2024-10-15, to: 2024-10-20", text}}); };
  CHECK(span("from: 2024-10-15, to: 2024-10-15").empty());
  CHECK(span("from: 2024-10-15") == "2:1: span lacks to");
  CHECK(span("from: , to: 2024-10-15") == "2:8: span lacks from");
  CHECK(span("form: 2024-10-15, to: 2024-10-15") == "2:8: span has no key 'form'");
  CHECK(span("from: [2024-10-15], to: 2024-10-15") == "2:14: from must be a day written YYYY-MM-DD, not a list");
  CHECK(span("from: 2024-02-30, to: 2024-13-01") ==
        "2:14: 2024-02-30 does not exist: February 2024 has 29 days and 1 more");
  CHECK(span("from: 2024-10-15, to: 2024-10-14") == "2:30: the span is empty: it ends on 2024-10-14, before it begins");
}

TEST_CASE("the weather") {
  const auto weather = [](const std::string& text) { return first({{"{file: bog.epw}", text}}); };
  CHECK(weather("{}") == "3:1: weather is empty");
  CHECK(weather("{file: ~}") == "3:11: weather lacks file");
  CHECK(weather("{fiel: bog.epw}") == "3:11: weather has no key 'fiel'");
  CHECK(weather("{file: [bog.epw]}") == "3:17: weather file must be the name of a file, not a list");
  CHECK(weather("{file: .}") == "3:17: weather file . is a folder");
  CHECK(weather("{file: rain.epw}") == "3:17: weather file rain.epw does not exist");
}

TEST_CASE("part files") {
  const auto files = [](const std::string& list, const std::string& text) {
    const test::WorkingFolder folder;
    folder.write("bog.epw", "");
    folder.write("own.yaml", text);
    folder.write("bench.yaml", test::edited({{"parts:\n", "part_files: " + list + "\nparts:\n"},
                                             {"{model: resistor, resistance: 10 kohm}", "{part: bleeder}"}}));
    try {
      read_scenario("bench.yaml");
    } catch (const InputError& error) {
      std::string all;
      for (const Fault& f : error.faults())
        all += f.place.file + ":" + std::to_string(f.place.line) + " " + f.message + "\n";
      return all;
    }
    return std::string();
  };
  const std::string good = "bleeder: {model: resistor, resistance: 10 kohm}\n";
  CHECK(files("[own.yaml]", good).empty());
  CHECK(files("[own.yaml, ./own.yaml]", good) == "bench.yaml:4 part file own.yaml is named twice\n");
  CHECK(files("[owl.yaml]", good) == "bench.yaml:4 part file owl.yaml does not exist\n");
  CHECK(files("[own.yaml]", "bleeder: [\n") == "own.yaml:1 not valid YAML: this '[' is not closed\n");
  CHECK(files("[own.yaml]", "") == "own.yaml:1 the file is empty\n");
  CHECK(files("[own.yaml]", good + good) == "own.yaml:2 the key 'bleeder' stands here a second time\n");
  CHECK(files("[own.yaml]", "bleeder: {model: resistor, resistance: -1 ohm}\n") ==
        "own.yaml:1 '-1 ohm' is out of range: resistance must be above 0 ohm and at most 1000 Mohm\n");
  CHECK(files("[own.yaml]", "breeder: {model: resistor, resistance: 1 ohm}\n") ==
        "bench.yaml:7 there is no part class 'bleeder'\n");
  CHECK(files("[own.yaml, {a: 1}]", good).find("bench.yaml:4 part file must be the name of a file, not a mapping\n") ==
        0);
}

namespace {

const Edits with_controller = {
    {"nets:\n  cell+: [cell.plus, drain.a]\n  gnd: [cell.minus, drain.b]",
     "  mcu:\n    model: controller\n    minimum_supply: 2 V\n    maximum_supply: 4.5 V\n    brownout_threshold: 2.5 "
     "V\n"
     "    boot_time: 10 ms\n    boot_current: 3 mA\n    idle_current: 1 mA\n"
     "    phases: [{name: measure, duration: 2 s, current: 5 mA}]\n"
     "policy: {every: 30 min}\n"
     "nets:\n  cell+: [cell.plus, drain.a, mcu.supply]\n  gnd: [cell.minus, drain.b, mcu.ground]"}};

Edits and_edits(Edits first, const Edits& then) {
  first.insert(first.end(), then.begin(), then.end());
  return first;
}

}  // namespace

TEST_CASE("the policy") {
  CHECK_FALSE(static_cast<bool>(read({}).policy));
  const Scenario s = read(with_controller);
  REQUIRE(static_cast<bool>(s.policy));
  std::int32_t row = -1;
  CHECK(s.policy->interval(3.7, row) == 1800);
  const auto other = [](const std::string& policy) {
    return first(and_edits(with_controller, {{"policy: {every: 30 min}\n", policy}}));
  };
  CHECK(other("") == "7:3: part 'mcu' asks a wake policy, but the scenario has none");
  CHECK(other("policy:\n") == "16:1: policy is empty");
  CHECK(other("policy: 30 min\n") == "16:9: policy must be a mapping, not '30 min'");
  CHECK(other("polcy: {every: 30 min}\n") == "16:1: a scenario has no key 'polcy'");
  CHECK(other("policy: {every: 30 V}\n") == "16:20: 'V' measures a voltage; every is given in min");
  CHECK(other("policy: {every: 30 min, table: [{every: 1 h}]}\n") ==
        "16:32: the policy has a table and also one interval for all voltages");
  CHECK(first({{"nets:", "policy: {every: 30 min}\nnets:"}}) == "7:1: the scenario has a policy, but no part asks it");
  SUBCASE("a part of unknown model may be meant to ask it") {
    CHECK(first({{"nets:", "policy: {every: 30 min}\nnets:"}, {"model: resistor", "model: resister"}}) ==
          "6:18: there is no model 'resister'");
  }
}

TEST_CASE("an electrical line brings its net and its pull-up") {
  const Scenario s =
      read({{"nets:\n  cell+: [cell.plus, drain.a]\n  gnd: [cell.minus, drain.b]",
             "  clock: {model: clock}\n  switch: {part: p-switch-logic-30mohm}\n"
             "lines: {wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: cell+, resistance: 100 kohm}}}\n"
             "nets:\n  cell+: [cell.plus, clock.supply, switch.source]\n  rail: [drain.a, switch.drain]\n"
             "  gnd: [cell.minus, drain.b, clock.ground]"}});
  CHECK(s.lines.empty());
  REQUIRE(s.parts.size() == 5);
  CHECK(s.parts[4].name == "wake pull-up");
  CHECK(s.parts[4].table == find_model("resistor"));
  REQUIRE(s.nets.size() == 4);
  CHECK(s.nets[3].name == "wake");
  CHECK(s.nets[3].pins.size() == 3);
  CHECK(s.nets[0].pins.back().part == 4);
}

TEST_CASE("what is required") {
  const Scenario silent = read(with_controller);
  REQUIRE(silent.requirements.size() == 4);
  for (const Requirement& r : silent.requirements) CHECK(r.by_default);
  CHECK(silent.sunny_days == 3);
  const Scenario s = read(
      and_edits(with_controller,
                {{"nets:", "require: {brownouts: {at_most: 0}, needs_human: {at_most: 1, sunny_days: 7}}\nnets:"}}));
  REQUIRE(s.requirements.size() == 3);
  CHECK(s.requirements[1].name == "damage");
  CHECK(s.requirements[1].by_default);
  CHECK(s.requirements[0].name == "brownouts");
  CHECK(s.requirements[0].place.line == 17);
  CHECK_FALSE(s.requirements[0].by_default);
  CHECK(s.sunny_days == 7);
  CHECK(first({{"nets:", "require:\nnets:"}}) == "7:1: require is empty");
  CHECK(first({{"nets:", "require: {}\nnets:"}}) == "7:1: require is empty");
  CHECK(first({{"nets:", "require: all\nnets:"}}) == "7:10: require must be a mapping, not 'all'");
  CHECK(first({{"nets:", "variants: {}\nnets:"}}) == "7:1: a scenario has no key 'variants'");
}

TEST_CASE("what is required where nothing wakes") {
  REQUIRE(read({}).requirements.size() == 1);
  CHECK(read({}).requirements[0].name == "damage");
  CHECK(read({{"nets:", "require: {lowest_charge: {at_least: 20 %}}\nnets:"}}).requirements.size() == 2);
  const std::string brownouts = "require: {brownouts: {at_most: 0}}\nnets:";
  CHECK(first({{"nets:", brownouts}}) == "7:11: brownouts is a matter of wakes, and no part can complete one");
  SUBCASE("a part of unknown model may be meant to wake") {
    CHECK(first({{"nets:", brownouts}, {"model: resistor", "model: resister"}}) ==
          "6:18: there is no model 'resister'");
  }
}

TEST_CASE("exactly one cell") {
  CHECK(first({{"{part: nmc-18650-3000mah, charge: 80 %}", "{model: schottky, part: schottky-1a-40v}"},
               {"cell.plus", "cell.anode"},
               {"cell.minus", "cell.cathode"}}) == "4:1: no part is a cell");
  CHECK(first({{"{model: resistor, resistance: 10 kohm}", "{part: nmc-pouch-1200mah}"},
               {"drain.a", "drain.plus"},
               {"drain.b", "drain.minus"}}) == "6:3: part 'drain' is a second cell; a system has one");
  SUBCASE("a part of unknown model may be meant to be it") {
    CHECK(first({{"{part: nmc-18650-3000mah, charge: 80 %}", "{model: sell}"}}) == "5:17: there is no model 'sell'");
  }
}

TEST_CASE("the scenario file itself") {
  const test::WorkingFolder folder;
  folder.write("bench.yaml", "");
  std::filesystem::create_directory("folder");
  const auto message = [](const std::string& path) -> std::string {
    try {
      read_scenario(path);
    } catch (const InputError& error) {
      return error.what();
    }
    return {};
  };
  CHECK(message("bench.yml") == "bench.yml: the scenario file does not exist\n  try: bench.yaml");
  const std::string how = "\n  try: give the path of a scenario, a YAML file such as scenarios/peat-bog.yaml";
  CHECK(message("folder") == "folder: the scenario file is a folder" + how);
  CHECK(message("/dev/null") == "/dev/null: the scenario file is not a regular file" + how);
  CHECK(message("nowhere") == "nowhere: the scenario file does not exist" + how);
  CHECK(message("bench.yaml") ==
        "bench.yaml:1:1: the file is empty\n  try: fill it line by line, KEY: VALUE, or name another file");
}

TEST_CASE("the scenarios of the repository are accepted") {
  for (const auto& entry : std::filesystem::directory_iterator(OVERWINTER_SOURCE "/scenarios")) {
    if (entry.path().extension() != ".yaml") continue;
    CAPTURE(entry.path().string());
    CHECK_NOTHROW(read_scenario(entry.path().string()));
  }
}

TEST_CASE("a hundred ways to cut a scenario short end in faults, never in a crash") {
  const test::WorkingFolder folder;
  folder.write("bog.epw", "");
  const std::string whole = test::bench_scenario;
  for (std::size_t size = 0; size + 12 < whole.size(); ++size) {
    folder.write("bench.yaml", whole.substr(0, size));
    CHECK_THROWS_AS(read_scenario("bench.yaml"), InputError);
  }
}
