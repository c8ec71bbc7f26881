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
  double charge_error = 0;   ///< largest at any hour, of the cell's capacity
  double voltage_error = 0;  ///< largest at any hour, V
  bool same_events = false;  ///< those of the service, in the same order
  double event_error = 0;    ///< s, the largest of them where they are the same
};

struct WorkPrecision {
  std::string reference;  ///< what the errors are measured against
  int days = 0;
  std::vector<WorkPrecisionRow> rows;  ///< by method, then by tolerance

  /// The cheapest row of a method that reaches `error`. Null: none does.
  const WorkPrecisionRow* cheapest(const std::string& method, double error) const;
  /// Of several methods.
  const WorkPrecisionRow* cheapest(const std::vector<std::string>& methods, double error) const;
};

/// State of charge, 0...1, at which the methods are compared.
inline constexpr double compared_error = 1e-5;

/// `runs`: of each row, interleaved; the shortest time counts.
WorkPrecision measure_work_precision(const std::string& scenario, int days, int runs);
void print(const WorkPrecision&);
nlohmann::ordered_json json_of(const WorkPrecision&);

}  // namespace overwinter
