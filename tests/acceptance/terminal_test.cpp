// The program as a person meets it: what it prints, to the letter where it matters, and its exit code.
#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <numeric>
#include <sstream>
#include <string>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/report/texts.hpp"
#include "tests/support/program.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

const std::string outcomes = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/";

/// The joules of a line such as "  used by radio     18.84 kJ  59.6 %  ####".
double joules_in(const std::string& line) {
  std::istringstream words(line.substr(36));
  double number = 0;
  std::string unit;
  words >> number >> unit;
  return number * (unit == "MJ" ? 1e6 : unit == "kJ" ? 1e3 : unit == "J" ? 1 : 1e-3);
}

}  // namespace

TEST_CASE("terminal: no joule is dropped, the smallest are summed up in a last line; words for one and for many") {
  const test::Scratch scratch;
  const test::Said said =
      test::overwinter_says("run " + outcomes + "flag-never-cleared.yaml --out " + scratch.path("run"), scratch);
  CHECK(said.code == 1);
  const auto summary = nlohmann::ordered_json::parse(scratch.read("run/summary.json"));
  const auto& energy = summary.at("energy");
  const double whole = energy.at("harvested_J").get<double>() - energy.at("stored_change_J").get<double>();

  std::istringstream lines(said.out.substr(said.out.find("Where every joule went")));
  std::string line, last;
  std::getline(lines, line);
  double sum = 0;
  while (std::getline(lines, line) && line.find("balance") == std::string::npos) {
    sum += joules_in(line);
    last = line;
  }
  std::size_t small = 0;
  double together = 0;
  const auto count = [&](const nlohmann::ordered_json& causes) {
    for (const auto& joules : causes) {
      const double size = joules.get<double>();
      if (size == 0 || std::abs(size) >= 5e-5 * whole) continue;
      ++small;
      together += size;
    }
  };
  count(energy.at("delivered_by_part_J"));
  for (const auto& losses : energy.at("losses_J")) count(losses);
  REQUIRE(small > 1);
  CHECK(last.find("  " + std::to_string(small) + " smaller ones together") == 0);
  CHECK(std::abs(joules_in(last) - together) < 1e-3);
  // Printed to three digits at least, over some twenty lines.
  CHECK(sum == doctest::Approx(whole).epsilon(2e-3));

  CHECK(said.says("Service  2 alarms came due: 1 wake, 1 completed, 1 missed; 0 failed starts\n"));
  CHECK(said.says("worst day 0 wakes; worst week 1 from"));
  CHECK(said.says("longest gap 6.99 d from"));
  CHECK(said.says("FAILED     longest gap         at most 25 h     reached 168 h\n"));
  CHECK(
      said.says("held       damage              at most 0        reached 0  (by default, the scenario does not name "
                "it)\n"));
}

TEST_CASE("terminal: a need of a human says how its sunny days were counted") {
  const test::Scratch scratch;
  const test::Said said =
      test::overwinter_says("run " + outcomes + "needs-human.yaml --out " + scratch.path("run"), scratch);
  CHECK(said.says(
      "needs human since 2024-10-14T00:00:00Z\n"
      "           3 sunny days came and went; most of the light was refused on all 3 (charger: pre-charge)\n"));
}

TEST_CASE("terminal: a reset loop is told in the same words and numbers as in the report") {
  const test::Scratch scratch;
  const std::string scenarios = std::string(OVERWINTER_SOURCE) + "/scenarios/";
  std::ifstream file(scenarios + "peat-bog.yaml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  // As in hiccup_test.cpp: a sunny day after the first design has died.
  for (const auto& [from, to] :
       {std::pair<std::string, std::string>{"from: 2024-10-15, to: 2025-01-20", "from: 2024-12-29, to: 2024-12-29"},
        {"charge: 80 %", "charge: 5.25 %"},
        {"file: peat-bog.epw", "file: " + scenarios + "peat-bog.epw"}}) {
    REQUIRE(text.find(from) != std::string::npos);
    text.replace(text.find(from), from.size(), to);
  }
  const test::Said said =
      test::overwinter_says("run " + scratch.write("loop.yaml", text) + " --out " + scratch.path("run"), scratch);
  const auto loops = nlohmann::json::parse(scratch.read("run/summary.json")).at("stepped_over");
  REQUIRE(loops.at("restarts_in_vain").size() > 1);
  std::istringstream words(said.out);
  const std::string terminal =
      std::accumulate(std::istream_iterator<std::string>(words), {}, std::string(),
                      [](const std::string& all, const std::string& w) { return all + w + " "; });
  const std::string report = scratch.read("run/report.html");
  for (const std::string* told : {&terminal, &report}) {
    const auto tells = [&](const std::string& what) { return told->find(what) != std::string::npos; };
    CHECK(tells(restart_in_vain));
    CHECK(tells(energy_text(loops.at("energy_J")) + " went into them"));
    CHECK(tells(" by " + energy_text(std::abs(loops.at("unbalanced_J").get<double>())) + "."));
    CHECK(tells(duration_text(loops.at("time_s"))));
    for (const auto& r : loops.at("restarts_in_vain")) CHECK(tells(r.at("times").dump()));
  }
  // "Failed start" is the metric's word alone.
  CHECK(terminal.find("failed start") == terminal.rfind("failed start"));
  CHECK(terminal.find(" missed; ") < terminal.find(" failed starts "));
}

TEST_CASE("terminal: a file that is no scenario") {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says("run /dev/null", scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK(said.err ==
        "/dev/null: the scenario file is not a regular file\n"
        "  try: give the path of a scenario, a YAML file such as scenarios/peat-bog.yaml\n");
}

TEST_CASE("terminal: check and run warn of a charger above what the cell bears") {
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  const std::string file = scratch.write("wrong.yaml",
                                         "span: {from: 2025-03-01, to: 2025-03-01}\n"
                                         "weather: {file: still.epw}\n"
                                         "parts:\n"
                                         "  panel: {part: panel-6v-100ma, tilt: 70 deg, azimuth: 180 deg}\n"
                                         "  charger: {part: charger-linear-100ma}\n"
                                         "  cell: {part: lfp-18650-1500mah, charge: 50 %}\n"
                                         "nets:\n"
                                         "  sun: [panel.plus, charger.in]\n"
                                         "  cell+: [charger.out, cell.plus]\n"
                                         "  gnd: [panel.minus, charger.ground, cell.minus]\n"
                                         "lines: {warmth: {from: cell.temperature, to: charger.temperature}}\n");
  const std::string warning =
      "Warning  charger charges to 4.2 V, but cell bears no more than 3.65 V: overcharging a lithium cell";
  CHECK(test::overwinter_says("check " + file, scratch).says(warning));
  CHECK(test::overwinter_says("run " + file + " --out " + scratch.path("run"), scratch).says(warning));
  const auto report = nlohmann::json::parse(test::overwinter_says("check --json " + file, scratch).out);
  CHECK(report.at("findings").size() == 1);
  CHECK(report.at("findings").at(0).at("rule") == "charge-voltage-above-cell");
}
