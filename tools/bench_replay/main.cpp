// How the stepper's cost and error go with its tolerance: the peat-bog harvest side over 30 winter days, all
// in one run, so that only ratios count. Error: largest difference of the state of charge at the days' ends from a run
// at 1e-10.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "sim/engine/simulator.hpp"
#include "sim/replay/replay.hpp"

namespace {

using namespace overwinter;

struct Measured {
  std::vector<double> charge;  ///< of the first state at each day's end
  double seconds = 0;
  std::size_t steps = 0, solves = 0;
};

Measured measure(const Diagram& diagram, const Weather& weather, double tolerance) {
  SimulatorOptions options;
  options.tolerance = tolerance;
  Simulator simulator(diagram, weather, options);
  Measured m;
  const auto started = std::chrono::steady_clock::now();
  Context c = simulator.start();
  while (c.now < weather.end()) {
    simulator.advance(c, std::min(weather.end(), c.now + ticks_per_day));
    m.charge.push_back(c.state[0]);
  }
  m.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - started).count();
  m.steps = simulator.steps().accepted;
  m.solves = simulator.solves().solves;
  return m;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Measures the engine's cost and error against its tolerance."};
  std::string scenario_file = "scenarios/peat-bog-harvest.yaml", json_file;
  app.add_option("FILE", scenario_file, "scenario")->capture_default_str();
  app.add_option("--json", json_file, "also write the table to this file");
  CLI11_PARSE(app, argc, argv);
  try {
    Scenario scenario = read_scenario(scenario_file);
    scenario.to = civil_date(days_since_epoch(scenario.from) + 29);
    const Weather weather = weather_of(scenario, std::nullopt);
    const Diagram diagram(scenario);
    const Measured best = measure(diagram, weather, 1e-10);
    const double standard = measure(diagram, weather, SimulatorOptions{}.tolerance).seconds;
    const double capacity = *std::max_element(best.charge.begin(), best.charge.end());
    nlohmann::ordered_json rows = nlohmann::ordered_json::array();
    fmt::print("{:>10} {:>12} {:>16} {:>10} {:>10} {:>12}\n", "tolerance", "cost ratio", "s per sim. year", "steps",
               "solves", "charge error");
    for (const double tolerance : {1e-4, 1e-5, 1e-6, 1e-7, 1e-8}) {
      const Measured m = measure(diagram, weather, tolerance);
      double error = 0;
      for (std::size_t i = 0; i < m.charge.size(); ++i)
        error = std::max(error, std::abs(m.charge[i] - best.charge[i]) / capacity);
      const double year = m.seconds * 365 / static_cast<double>(m.charge.size());
      fmt::print("{:>10.0e} {:>12.2f} {:>16.2f} {:>10} {:>10} {:>12.1e}\n", tolerance, m.seconds / standard, year,
                 m.steps, m.solves, error);
      rows.push_back({{"tolerance", tolerance},
                      {"cost_ratio", m.seconds / standard},
                      {"s_per_simulated_year", year},
                      {"steps", m.steps},
                      {"solves", m.solves},
                      {"charge_error", error}});
    }
    if (!json_file.empty()) {
      std::ofstream file(json_file);
      file << rows.dump(2) << "\n";
      file.close();
      if (!file) {
        fmt::print(stderr, "{}: cannot be written\n", json_file);
        return 3;
      }
    }
    return 0;
  } catch (const InputError& e) {
    fmt::print(stderr, "{}", e.what());
    return 2;
  } catch (const std::exception& e) {
    fmt::print(stderr, "bench: {}\n", e.what());
    return 3;
  }
}
