#include "tools/benchmark/program_cost.hpp"

#include <fmt/format.h>

#include "tools/benchmark/child.hpp"
#include "tools/benchmark/variants.hpp"

namespace overwinter {

std::vector<ProgramCost> measure_program(const std::string& program, const std::string& scenario) {
  const TemporaryFolder folder;
  const std::string day = folder.write("day.yaml", shortened(scenario, 1)), out = folder.path("out");
  const auto of = [](const std::string& what, const Finished& f) {
    return ProgramCost{what, f.seconds, f.peak_mebibytes};
  };
  // A day is too short for the scenario's requirements: exit code 1 is as good as 0.
  return {of("--version", best_of(10, {program, "--version"})), of("check", best_of(10, {program, "check", scenario})),
          of("run, one day", best_of(5, {program, "run", day, "--out", out}, 1)),
          of("run, the whole span", best_of(1, {program, "run", scenario, "--out", out}, 1))};
}

void print(const std::vector<ProgramCost>& costs) {
  fmt::print("\nThe program, wall time and largest resident size\n");
  for (const ProgramCost& c : costs) {
    fmt::print("  {:<20} {:>8.1f} ms {:>7.1f} MiB\n", c.what, c.seconds * 1000, c.peak_mebibytes);
  }
}

nlohmann::ordered_json json_of(const std::vector<ProgramCost>& costs) {
  nlohmann::ordered_json rows = nlohmann::ordered_json::array();
  for (const ProgramCost& c : costs) {
    rows.push_back({{"what", c.what}, {"s", c.seconds}, {"peak_MiB", c.peak_mebibytes}});
  }
  return rows;
}

}  // namespace overwinter
