#include "tools/benchmark/wakes.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/replay/replay.hpp"
#include "tools/benchmark/child.hpp"
#include "tools/benchmark/course.hpp"
#include "tools/benchmark/variants.hpp"

namespace overwinter {

namespace {

/// One scenario ready to be run again and again; the shortest time is kept.
struct Repeated {
  Repeated(const std::string& path, int days)
      : scenario(first_days(path, days)), weather(weather_of(scenario, std::nullopt)), diagram(scenario) {}
  void run() {
    Course next = run_course(diagram, weather, phases_method(), SimulatorOptions{}.tolerance);
    if (course.wakes == 0 || next.seconds < course.seconds) course = std::move(next);
  }
  double per_wake(double of_the_run) const { return of_the_run / static_cast<double>(course.wakes); }
  double microseconds() const { return per_wake(course.seconds) * 1e6; }
  double solves() const { return per_wake(static_cast<double>(course.solves)); }

  Scenario scenario;
  Weather weather;
  Diagram diagram;
  Course course;
};

}  // namespace

WakeCost measure_wakes(const std::string& path, int days, int runs) {
  const TemporaryFolder folder;
  const Phased few = with_phases_cut(path, 1), many = with_phases_cut(path, 2);
  Repeated plain(path, days), coarse(folder.write("few.yaml", few.yaml), days),
      fine(folder.write("many.yaml", many.yaml), days);
  for (int run = 0; run < runs; ++run) {
    for (Repeated* r : {&plain, &coarse, &fine}) r->run();
  }
  WakeCost cost;
  const Tick span = plain.weather.end() - plain.weather.begin();
  cost.days = static_cast<int>(span / ticks_per_day);
  cost.wakes = plain.course.wakes;
  cost.seconds_per_year = seconds_per_year(plain.course.seconds, span);
  cost.microseconds = plain.microseconds();
  cost.solves = plain.solves();
  cost.events = plain.per_wake(static_cast<double>(plain.course.events));
  cost.few = few.phases;
  cost.many = many.phases;
  const auto more = static_cast<double>(many.phases - few.phases);
  cost.phase_microseconds = (fine.microseconds() - coarse.microseconds()) / more;
  cost.phase_solves = (fine.solves() - coarse.solves()) / more;
  return cost;
}

void print(const WakeCost& c) {
  fmt::print("\nA wake, over {} days with {} of them at the default tolerance, all between the wakes included\n",
             c.days, c.wakes);
  fmt::print("  {:.0f} us, {:.0f} solves, {:.1f} events; {:.1f} s per simulated year\n", c.microseconds, c.solves,
             c.events, c.seconds_per_year);
  fmt::print(
      "  one more load phase: {:.1f} us, {:.1f} solves (wakes of {} phases less wakes of {}, as long and as "
      "hungry)\n",
      c.phase_microseconds, c.phase_solves, c.many, c.few);
}

nlohmann::ordered_json json_of(const WakeCost& c) {
  return {{"days", c.days},
          {"wakes", c.wakes},
          {"s_per_simulated_year", c.seconds_per_year},
          {"us_per_wake", c.microseconds},
          {"solves_per_wake", c.solves},
          {"events_per_wake", c.events},
          {"phases_compared", {c.few, c.many}},
          {"us_per_phase", c.phase_microseconds},
          {"solves_per_phase", c.phase_solves}};
}

}  // namespace overwinter
