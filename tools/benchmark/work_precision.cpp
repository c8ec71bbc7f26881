#include "tools/benchmark/work_precision.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/replay/replay.hpp"

namespace overwinter {

namespace {

constexpr double tolerances[] = {1e-4, 3e-5, 1e-5, 1e-6, 1e-7};
constexpr double reference_tolerance = 1e-12;
constexpr double finest_plain = 1e-5;  // what is finer takes minutes and decides nothing

void compare(WorkPrecisionRow& row, const Course& course, const Course& truth) {
  const std::vector<double> charge = differences(course.charge, truth.charge);
  row.charge_error = charge.back();
  row.usual_error = charge[charge.size() / 2];
  row.voltage_error = differences(course.voltage, truth.voltage).back();
  row.event_error = events_apart(course, truth);
}

struct Comparison {
  std::string name;
  std::vector<std::string> slower, faster;
  std::string target;
};

const std::vector<std::string> ours = {"phases", "reference"},
                               theirs = {"CVODE Adams", "CVODE Adams diagonal", "CVODE BDF"},
                               plain = {"CVODE Adams, plain", "CVODE BDF, plain"};
const Comparison comparisons[] = {
    {"fastest CVODE with plain Newton over our fastest stepper", plain, ours, "at least 10, hoped for 20"},
    {"fastest CVODE with our network solver over our fastest stepper", theirs, ours, "at least 10, hoped for 20"},
    {"fastest CVODE with plain Newton over the reference stepper", plain, {"reference"}, "at least 1"},
    {"fastest CVODE with our network solver over the reference stepper", theirs, {"reference"}, "at least 1"},
};

/// What of the state of charge's error is held to compared_error.
struct Measure {
  const char* name;
  double WorkPrecisionRow::*error;
};
constexpr Measure measures[] = {{"largest", &WorkPrecisionRow::charge_error},
                                {"median hour's", &WorkPrecisionRow::usual_error}};

/// The slower ones' time over the faster ones', each the cheapest that reaches the error. Empty where one has none.
std::optional<double> ratio(const WorkPrecision& w, const Comparison& c, const Measure& m) {
  const WorkPrecisionRow *slow = w.cheapest(c.slower, m.error, compared_error),
                         *fast = w.cheapest(c.faster, m.error, compared_error);
  if (!slow || !fast) return std::nullopt;
  return slow->seconds_per_year / fast->seconds_per_year;
}

}  // namespace

const WorkPrecisionRow* WorkPrecision::cheapest(const std::vector<std::string>& methods,
                                                double WorkPrecisionRow::*which, double error) const {
  const WorkPrecisionRow* best = nullptr;
  for (const WorkPrecisionRow& row : rows) {
    if (std::find(methods.begin(), methods.end(), row.method) == methods.end() || row.*which > error) continue;
    if (!best || row.seconds_per_year < best->seconds_per_year) best = &row;
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
    for (const Method& method :
         {phases_method(), reference_method(), cvode_method(CvodeVariant::adams),
          cvode_method(CvodeVariant::adams_diagonal), cvode_method(CvodeVariant::bdf),
          with_plain_newton(cvode_method(CvodeVariant::adams)), with_plain_newton(cvode_method(CvodeVariant::bdf))}) {
      for (const double tolerance : tolerances) {
        if (method.plain && tolerance < finest_plain) continue;
        const Course course = run_course(diagram, weather, method, tolerance);
        const double year = seconds_per_year(course.seconds, span);
        if (run > 0) {
          row->seconds_per_year = std::min(row->seconds_per_year, year);
          ++row;
          continue;
        }
        WorkPrecisionRow measured{method.name, tolerance, year, course.right_hand_sides, course.solves, course.steps, 0,
                                  0,           0,         {}};
        compare(measured, course, truth);
        result.rows.push_back(std::move(measured));
      }
    }
  }
  return result;
}

void print(const WorkPrecision& w) {
  const WorkPrecisionRow* unit = w.cheapest(ours, &WorkPrecisionRow::charge_error, compared_error);
  fmt::print("Work and precision: {} days of the ten-minute instrument; errors against {}\n", w.days, w.reference);
  fmt::print("{:<20} {:>9} {:>7} {:>6} {:>9} {:>9} {:>9} {:>9} {:>8} {:>10} {:>8}\n", "method", "tolerance", "s/year",
             "ratio", "rhs calls", "solves", "steps", "SoC error", "median", "V error", "events");
  for (const WorkPrecisionRow& row : w.rows) {
    fmt::print("{:<20} {:>9.0e} {:>7.2f} {:>6} {:>9} {:>9} {:>9} {:>9.1e} {:>8.1e} {:>8.1e} V {:>8}\n", row.method,
               row.tolerance, row.seconds_per_year,
               unit ? fmt::format("{:.2f}", row.seconds_per_year / unit->seconds_per_year) : "-", row.right_hand_sides,
               row.solves, row.steps, row.charge_error, row.usual_error, row.voltage_error,
               row.event_error ? fmt::format("{:.0e} s", *row.event_error) : "others");
  }
  for (const Measure& m : measures) {
    fmt::print("Cheapest where the {} SoC error is at most {:.0e}:\n", m.name, compared_error);
    for (const auto* methods : {&ours, &theirs, &plain}) {
      for (const std::string& method : *methods) {
        const WorkPrecisionRow* row = w.cheapest({method}, m.error, compared_error);
        fmt::print("  {:<20} {}\n", method,
                   row ? fmt::format("{:.2f} s a year at {:.0e}, error {:.1e}", row->seconds_per_year, row->tolerance,
                                     row->*m.error)
                       : "none");
      }
    }
    for (const Comparison& c : comparisons) {
      const std::optional<double> value = ratio(w, c, m);
      fmt::print("  {}: {} (target {})\n", c.name, value ? fmt::format("{:.2f}", *value) : "undecided", c.target);
    }
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
                    {"median_charge_error", row.usual_error},
                    {"voltage_error_V", row.voltage_error},
                    {"same_events", row.event_error.has_value()},
                    {"event_error_s", row.event_error ? nlohmann::ordered_json(*row.event_error) : nullptr}});
  }
  nlohmann::ordered_json compared = nlohmann::ordered_json::array();
  for (const Measure& m : measures) {
    for (const Comparison& c : comparisons) {
      const std::optional<double> value = ratio(w, c, m);
      compared.push_back({{"what", c.name},
                          {"error", m.name},
                          {"ratio", value ? nlohmann::ordered_json(*value) : nullptr},
                          {"target", c.target}});
    }
  }
  return {{"days", w.days},
          {"reference", w.reference},
          {"rows", std::move(rows)},
          {"compared_at_charge_error", compared_error},
          {"ratios", std::move(compared)}};
}

}  // namespace overwinter
