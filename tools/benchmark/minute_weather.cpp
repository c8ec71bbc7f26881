#include "tools/benchmark/minute_weather.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <random>

#include "sim/weather/epw.hpp"
#include "tools/benchmark/course.hpp"

namespace overwinter {

namespace {

constexpr std::size_t minutes_an_hour = 60;
constexpr double cloudy_minutes = 4, clear_minutes = 8, under_cloud = 0.2;
constexpr Rows all_rows[] = {Rows::hourly, Rows::minutes, Rows::clouds};

using Factors = std::array<double, minutes_an_hour>;

/// Clear and cloudy spells of exponential length; what the light of each minute is of its hour's mean.
class CloudyHours {
 public:
  Factors next_hour() {
    Factors factors;
    double sum = 0;
    for (double& f : factors) {
      // The generator's own numbers, for a library's distributions differ from one to the next.
      const double chance = static_cast<double>(random_()) / 4294967296.0;
      if (chance < 1 / (cloudy_ ? cloudy_minutes : clear_minutes)) cloudy_ = !cloudy_;
      f = cloudy_ ? under_cloud : 1.0;
      sum += f;
    }
    for (double& f : factors) f *= minutes_an_hour / sum;
    return factors;
  }

 private:
  std::mt19937 random_{20261125};
  bool cloudy_ = false;
};

std::size_t first_hour(CivilDate day) {
  return static_cast<std::size_t>(days_since_epoch({2023, day.month, day.day}) - days_since_epoch({2023, 1, 1})) * 24;
}

struct Timed {
  double seconds = 0;
  std::size_t solves = 0;
};

MinuteCost measure(const std::string& path, int days, int runs) {
  const Scenario scenario = first_days(path, days);
  const StationYear station = read_epw(scenario.weather_file);
  const Diagram diagram(scenario);
  std::array<Timed, std::size(all_rows)> times;
  Tick span = 0;
  for (int run = 0; run < runs; ++run) {
    for (std::size_t r = 0; r < times.size(); ++r) {
      const Weather weather(measured_record(station, scenario, all_rows[r]), station.site, scenario.from, scenario.to);
      span = weather.end() - weather.begin();
      const Course course = run_course(diagram, weather, phases_method(), SimulatorOptions{}.tolerance);
      if (run == 0 || course.seconds < times[r].seconds) times[r] = {course.seconds, course.solves};
    }
  }
  const auto solves = [&](std::size_t r) {
    return static_cast<double>(times[r].solves) / static_cast<double>(times[0].solves);
  };
  return {std::filesystem::path(path).stem().string(),
          static_cast<int>(span / ticks_per_day),
          seconds_per_year(times[0].seconds, span),
          times[1].seconds / times[0].seconds,
          times[2].seconds / times[0].seconds,
          solves(1),
          solves(2)};
}

}  // namespace

MeasuredRecord measured_record(const StationYear& station, const Scenario& scenario, Rows rows) {
  MeasuredRecord record;
  record.path = "made by the benchmark";
  record.begin = ticks_of_span(station.site, scenario.from, scenario.to).begin;
  const std::size_t pieces = rows == Rows::hourly ? 1 : minutes_an_hour;
  record.step = 3600 * ticks_per_second / static_cast<Tick>(pieces);
  const auto hours = static_cast<std::size_t>(days_since_epoch(scenario.to) - days_since_epoch(scenario.from) + 1) * 24;
  CloudyHours sky;
  for (std::size_t h = 0; h < hours; ++h) {
    const std::size_t hour = (first_hour(scenario.from) + h) % hours_per_year;
    const StationRecord &now = station.hours[hour],
                        &before = station.hours[(hour + hours_per_year - 1) % hours_per_year];
    const Factors factors = sky.next_hour();
    for (std::size_t piece = 0; piece < pieces; ++piece) {
      const double f = rows == Rows::clouds ? factors[piece] : 1;
      record.rows.push_back({(before.air_celsius + now.air_celsius) / 2, f * now.global_horizontal, f * now.beam_normal,
                             f * now.diffuse_horizontal});
    }
  }
  return record;
}

std::vector<MinuteCost> measure_minute_weather(const std::vector<std::string>& scenarios, int days, int runs) {
  std::vector<MinuteCost> costs;
  for (const std::string& path : scenarios) costs.push_back(measure(path, days, runs));
  return costs;
}

void print(const std::vector<MinuteCost>& costs) {
  fmt::print("\nWeather by the minute: time over that with hourly rows, solves in brackets (target at most 2)\n");
  for (const MinuteCost& c : costs) {
    fmt::print(
        "  {:<22} {:>2} days, hourly {:>6.2f} s/year: the hours repeated {:.2f} ({:.2f}), passing clouds {:.2f} "
        "({:.2f})\n",
        c.scenario, c.days, c.hourly_seconds_per_year, c.minutes_ratio, c.minutes_solves, c.clouds_ratio,
        c.clouds_solves);
  }
}

nlohmann::ordered_json json_of(const std::vector<MinuteCost>& costs) {
  nlohmann::ordered_json rows = nlohmann::ordered_json::array();
  for (const MinuteCost& c : costs) {
    rows.push_back({{"scenario", c.scenario},
                    {"days", c.days},
                    {"hourly_s_per_simulated_year", c.hourly_seconds_per_year},
                    {"minutes_over_hourly", c.minutes_ratio},
                    {"clouds_over_hourly", c.clouds_ratio},
                    {"minutes_over_hourly_solves", c.minutes_solves},
                    {"clouds_over_hourly_solves", c.clouds_solves}});
  }
  return rows;
}

}  // namespace overwinter
