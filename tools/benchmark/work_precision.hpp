// What each method of integration costs at which error, on the same diagram, weather, events and network solver.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "tools/benchmark/course.hpp"

namespace overwinter {

struct WorkPrecisionRow {
  std::string method;
  double tolerance = 0;
  double seconds_per_year = 0;
  std::size_t right_hand_sides = 0, solves = 0, steps = 0;
  double charge_error = 0;            ///< largest at any hour, of the cell's capacity
  double usual_error = 0;             ///< the median hour's
  double voltage_error = 0;           ///< largest at any hour, V
  std::optional<double> event_error;  ///< s, the largest of the service's events; empty where they are others
};

struct WorkPrecision {
  std::string reference;  ///< what the errors are measured against
  int days = 0;
  std::vector<WorkPrecisionRow> rows;  ///< by method, then by tolerance

  /// The cheapest row of those methods whose error is at most `error`. Null: none is.
  const WorkPrecisionRow* cheapest(const std::vector<std::string>& methods, double WorkPrecisionRow::*which,
                                   double error) const;
};

/// State of charge, 0...1, at which the methods are compared.
inline constexpr double compared_error = 1e-5;

/// `runs`: of each row, interleaved; the shortest time counts.
WorkPrecision measure_work_precision(const std::string& scenario, int days, int runs);
void print(const WorkPrecision&);
nlohmann::ordered_json json_of(const WorkPrecision&);

}  // namespace overwinter
