#include "tools/benchmark/work_precision.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/replay/replay.hpp"

namespace overwinter {

namespace {

constexpr double tolerances[] = {1e-3, 1e-4, 1e-5, 1e-6, 1e-7};
constexpr double reference_tolerance = 1e-11;

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double largest = 0;
  for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) largest = std::max(largest, std::abs(a[i] - b[i]));
  return largest;
}

void compare(WorkPrecisionRow& row, const Course& course, const Course& truth) {
  row.charge_error = largest_difference(course.charge, truth.charge);
  row.voltage_error = largest_difference(course.voltage, truth.voltage);
  const auto same = [](const ServiceEvent& a, const ServiceEvent& b) { return a.part == b.part && a.event == b.event; };
  row.same_events =
      std::equal(course.service.begin(), course.service.end(), truth.service.begin(), truth.service.end(), same);
  if (!row.same_events) return;
  Tick apart = 0;
  for (std::size_t i = 0; i < truth.service.size(); ++i) {
    apart = std::max(apart, std::abs(course.service[i].time - truth.service[i].time));
  }
  row.event_error = static_cast<double>(apart) / ticks_per_second;
}

struct Comparison {
  std::string name;
  std::vector<std::string> slower, faster;
  std::string target;
};

const std::vector<std::string> ours = {"phases", "reference"}, theirs = {"CVODE Adams", "CVODE BDF"};
const Comparison comparisons[] = {
    {"faster CVODE over our fastest stepper", theirs, ours, "at least 10, hoped for 20"},
    {"faster CVODE over the reference stepper", theirs, {"reference"}, "at least 1"},
};

/// The slower ones' time over the faster ones', each the cheapest that reaches the error. Empty where one has none.
std::optional<double> ratio(const WorkPrecision& w, const Comparison& c) {
  const WorkPrecisionRow *slow = w.cheapest(c.slower, compared_error), *fast = w.cheapest(c.faster, compared_error);
  if (!slow || !fast) return std::nullopt;
  return slow->seconds_per_year / fast->seconds_per_year;
}

}  // namespace

const WorkPrecisionRow* WorkPrecision::cheapest(const std::string& method, double error) const {
  const WorkPrecisionRow* best = nullptr;
  for (const WorkPrecisionRow& row : rows) {
    if (row.method != method || row.charge_error > error) continue;
    if (!best || row.seconds_per_year < best->seconds_per_year) best = &row;
  }
  return best;
}

const WorkPrecisionRow* WorkPrecision::cheapest(const std::vector<std::string>& methods, double error) const {
  const WorkPrecisionRow* best = nullptr;
  for (const std::string& method : methods) {
    const WorkPrecisionRow* row = cheapest(method, error);
    if (row && (!best || row->seconds_per_year < best->seconds_per_year)) best = row;
  }
  return best;
}

WorkPrecision measure_work_precision(const std::string& path, int days, int runs) {
  const Scenario scenario = first_days(path, days);
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  const Tick span = weather.end() - weather.begin();
  WorkPrecision result;
  result.days = static_cast<int>(span / ticks_per_day);
  result.reference = fmt::format("{} at {:.0e}", reference_method().name, reference_tolerance);
  const Course truth = run_course(diagram, weather, reference_method(), reference_tolerance);
  for (int run = 0; run < runs; ++run) {
    auto row = result.rows.begin();
    for (const Method& method : {phases_method(), reference_method(), cvode_adams_method(), cvode_bdf_method()}) {
      for (const double tolerance : tolerances) {
        const Course course = run_course(diagram, weather, method, tolerance);
        const double year = seconds_per_year(course.seconds, span);
        if (run > 0) {
          row->seconds_per_year = std::min(row->seconds_per_year, year);
          ++row;
          continue;
        }
        result.rows.push_back({method.name, tolerance, year, course.right_hand_sides, course.solves, course.steps});
        compare(result.rows.back(), course, truth);
      }
    }
  }
  return result;
}

void print(const WorkPrecision& w) {
  const WorkPrecisionRow* unit = w.cheapest(ours, compared_error);
  fmt::print("Work and precision: {} days of the ten-minute instrument; errors against {}\n", w.days, w.reference);
  fmt::print("{:<12} {:>9} {:>8} {:>6} {:>11} {:>11} {:>9} {:>10} {:>10} {:>10}\n", "method", "tolerance", "s/year",
             "ratio", "rhs calls", "solves", "steps", "SoC error", "V error", "events");
  for (const WorkPrecisionRow& row : w.rows) {
    fmt::print("{:<12} {:>9.0e} {:>8.2f} {:>6.2f} {:>11} {:>11} {:>9} {:>10.1e} {:>8.1e} V {:>10}\n", row.method,
               row.tolerance, row.seconds_per_year, unit ? row.seconds_per_year / unit->seconds_per_year : NAN,
               row.right_hand_sides, row.solves, row.steps, row.charge_error, row.voltage_error,
               row.same_events ? fmt::format("{:.0e} s", row.event_error) : "others");
  }
  fmt::print("Cheapest with a SoC error of at most {:.0e}:\n", compared_error);
  for (const auto* methods : {&ours, &theirs}) {
    for (const std::string& method : *methods) {
      const WorkPrecisionRow* row = w.cheapest(method, compared_error);
      fmt::print("  {:<12} {}\n", method,
                 row ? fmt::format("{:.2f} s a year at {:.0e}, SoC error {:.1e}", row->seconds_per_year, row->tolerance,
                                   row->charge_error)
                     : "none");
    }
  }
  for (const Comparison& c : comparisons) {
    const std::optional<double> value = ratio(w, c);
    fmt::print("  {}: {} (target {})\n", c.name, value ? fmt::format("{:.2f}", *value) : "undecided", c.target);
  }
}

nlohmann::ordered_json json_of(const WorkPrecision& w) {
  nlohmann::ordered_json rows = nlohmann::ordered_json::array();
  for (const WorkPrecisionRow& row : w.rows) {
    rows.push_back({{"method", row.method},
                    {"tolerance", row.tolerance},
                    {"s_per_simulated_year", row.seconds_per_year},
                    {"right_hand_sides", row.right_hand_sides},
                    {"network_solves", row.solves},
                    {"steps", row.steps},
                    {"charge_error", row.charge_error},
                    {"voltage_error_V", row.voltage_error},
                    {"same_events", row.same_events},
                    {"event_error_s", row.same_events ? nlohmann::ordered_json(row.event_error) : nullptr}});
  }
  nlohmann::ordered_json compared = nlohmann::ordered_json::array();
  for (const Comparison& c : comparisons) {
    const std::optional<double> value = ratio(w, c);
    compared.push_back(
        {{"what", c.name}, {"ratio", value ? nlohmann::ordered_json(*value) : nullptr}, {"target", c.target}});
  }
  return {{"days", w.days},
          {"reference", w.reference},
          {"rows", std::move(rows)},
          {"compared_at_charge_error", compared_error},
          {"ratios", std::move(compared)}};
}

}  // namespace overwinter
