#include "tools/benchmark/zoom_cost.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/engine/transient.hpp"
#include "sim/replay/replay.hpp"
#include "tools/benchmark/course.hpp"

namespace overwinter {

namespace {

constexpr Tick ms = ticks_per_second / 1000;
constexpr int windows = 50;

class AlarmsAndWakes final : public RunWatcher {
 public:
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (!h.event) return;
    if (h.event->role == EventRole::alarm_due) first_alarm = std::min(first_alarm, h.time);
    if (h.event->role == EventRole::wake_completed) ++wakes;
  }
  Tick first_alarm = never;
  std::size_t wakes = 0;
};

void measure_year(const std::string& path, int runs, ZoomCost& cost) {
  Scenario scenario = read_scenario(path);
  scenario.to = civil_date(days_since_epoch(scenario.from) + 364);
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  for (int run = 0; run < runs; ++run) {
    for (const bool look : {false, true}) {
      AlarmsAndWakes watcher;
      SimulatorOptions options;
      options.look_closer = look;
      Simulator simulator(diagram, weather, options, &watcher);
      const double begun = processor_seconds();
      Context c = simulator.start();
      simulator.advance(c, weather.end());
      const double taken = processor_seconds() - begun;
      double& least = look ? cost.with_seconds : cost.without_seconds;
      least = run == 0 ? taken : std::min(least, taken);
      cost.wakes = watcher.wakes;
      cost.thin = simulator.steps().thin;
      cost.looks = simulator.steps().closer_looks;
      cost.failed = simulator.steps().failed_looks;
    }
  }
}

void measure_window(const std::string& path, ZoomCost& cost) {
  const Scenario scenario = first_days(path, 1);
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  AlarmsAndWakes watcher;
  {
    Simulator simulator(diagram, weather, {}, &watcher);
    Context c = simulator.start();
    while (watcher.first_alarm == never) simulator.advance_segment(c, weather.end());
  }
  Simulator settled(diagram, weather, {});
  Context before = settled.start();
  settled.advance(before, watcher.first_alarm - ms);
  Simulator transient(diagram, weather, transient_options({}));
  const auto window = [&] {
    Context c = enter_transient(settled, transient, before);
    transient.advance(c, watcher.first_alarm + 4 * ms);
  };
  window();
  cost.window_steps = transient.steps().accepted;
  cost.window_solves = transient.solves().solves;
  const double begun = processor_seconds();
  for (int i = 0; i < windows; ++i) window();
  cost.window_seconds = (processor_seconds() - begun) / windows;
}

}  // namespace

ZoomCost measure_zoom(const std::string& year, const std::string& moment, int runs) {
  ZoomCost cost;
  measure_year(year, runs, cost);
  measure_window(moment, cost);
  return cost;
}

void print(const ZoomCost& c) {
  fmt::print("\nLooking into thin moments\n");
  fmt::print(
      "  a year of {} wakes, {} moments of it thin, {} looked into, {} failed: {:.2f} s against {:.2f} s without, "
      "ratio {:.2f} (target at most 1.5)\n",
      c.wakes, c.thin, c.looks, c.failed, c.with_seconds, c.without_seconds, c.with_seconds / c.without_seconds);
  fmt::print("  5 ms around a switch-on: {:.2f} ms, {} steps, {} solves (target at most 1 ms)\n",
             1e3 * c.window_seconds, c.window_steps, c.window_solves);
}

nlohmann::ordered_json json_of(const ZoomCost& c) {
  return {{"year",
           {{"wakes", c.wakes},
            {"thin", c.thin},
            {"looked_into", c.looks},
            {"failed", c.failed},
            {"with_over_without", c.with_seconds / c.without_seconds}}},
          {"window_5_ms", {{"ms", 1e3 * c.window_seconds}, {"steps", c.window_steps}, {"solves", c.window_solves}}}};
}

}  // namespace overwinter
