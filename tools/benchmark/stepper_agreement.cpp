#include "tools/benchmark/stepper_agreement.hpp"

#include <fmt/format.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <filesystem>

#include "sim/replay/replay.hpp"
#include "tools/benchmark/course.hpp"

namespace overwinter {

namespace {

namespace fs = std::filesystem;

/// In name order. A file without a span holds part classes.
std::vector<fs::path> scenarios_below(const std::string& folder, const std::string& but) {
  std::vector<fs::path> paths;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    const fs::path& path = entry.path();
    if (path.extension() != ".yaml" || path.filename() == but) continue;
    if (YAML::LoadFile(path.string())["span"]) paths.push_back(path);
  }
  std::sort(paths.begin(), paths.end());
  return paths;
}

StepperAgreement compare(const fs::path& path) {
  const Scenario scenario = read_scenario(path.string());
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  const double tolerance = SimulatorOptions{}.tolerance;
  const Course fast = run_course(diagram, weather, phases_method(), tolerance),
               slow = run_course(diagram, weather, reference_method(), tolerance);
  StepperAgreement a;
  a.scenario = path.stem().string();
  a.time_ratio = slow.seconds / fast.seconds;
  a.charge_difference = differences(fast.charge, slow.charge).back();
  a.events = slow.service.size();
  a.event_difference = events_apart(fast, slow);
  const auto last = std::mismatch(
      fast.service.begin(), fast.service.end(), slow.service.begin(), slow.service.end(),
      [](const ServiceEvent& x, const ServiceEvent& y) { return x.part == y.part && x.event == y.event; });
  a.alike = static_cast<std::size_t>(last.first - fast.service.begin());
  return a;
}

}  // namespace

std::vector<StepperAgreement> compare_steppers(const std::string& folder, const std::string& but) {
  std::vector<StepperAgreement> all;
  for (const fs::path& path : scenarios_below(folder, but)) all.push_back(compare(path));
  return all;
}

void print(const std::vector<StepperAgreement>& all) {
  fmt::print("\nThe fast stepper against the reference on the shipped scenarios, both at the default tolerance\n");
  for (const StepperAgreement& a : all) {
    const std::string events =
        !a.event_difference ? fmt::format("the first {} of {} service events the same", a.alike, a.events)
        : a.events == 0
            ? "no service events"
            : fmt::format("{} service events in the same order, at most {:.0e} s apart", a.events, *a.event_difference);
    fmt::print("  {:<20} {:>4.1f} times as fast, SoC {:.1e} apart; {}\n", a.scenario, a.time_ratio, a.charge_difference,
               events);
  }
}

nlohmann::ordered_json json_of(const std::vector<StepperAgreement>& all) {
  nlohmann::ordered_json rows = nlohmann::ordered_json::array();
  for (const StepperAgreement& a : all) {
    rows.push_back(
        {{"scenario", a.scenario},
         {"reference_time_over_phases", a.time_ratio},
         {"charge_difference", a.charge_difference},
         {"service_events", a.events},
         {"events_alike", a.alike},
         {"event_difference_s", a.event_difference ? nlohmann::ordered_json(*a.event_difference) : nullptr}});
  }
  return rows;
}

}  // namespace overwinter
