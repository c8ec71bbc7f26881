// The program as a person meets it: what it prints, to the letter where it matters, and its exit code.
#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "tests/support/program.hpp"

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
  CHECK(
      said.says("FAILED     longest gap         at most 25 h     reached 6.99 d  (minimum service, nothing else was "
                "required)\n"));
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
}
