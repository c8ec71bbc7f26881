// How long the instrument sleeps, asked once per wake.
//
// Voltage table with hysteresis: rows from the lowest voltage up, each with the interval that holds below its voltage;
// the last row has no upper end.
//   (1) to a lower row as soon as V < below[row - 1]
//   (2) to a higher row only when V >= below[row] + hysteresis
//                                                      common practice: hysteresis keeps the table from chattering
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

struct PolicyRow {
  std::optional<Voltage> below;  ///< none: from the row before up
  Duration every{};
};

struct PolicyParameters {
  std::optional<Duration> every;  ///< the same interval always
  std::vector<PolicyRow> table;
  Voltage hysteresis{0.0};
};

class Policy {
 public:
  /// Null with findings.
  static std::shared_ptr<const Policy> build(const PolicyParameters&, std::vector<Finding>&);
  /// Fields of PolicyParameters: the scenario's section `policy`.
  static const std::vector<Field>& fields();

  /// The interval in whole seconds after reading `voltage` (V). `row` is kept between wakes; -1 before the first.
  int interval(double voltage, std::int32_t& row) const;
  bool reads_voltage() const { return rows_.size() > 1; }
  Duration longest_interval() const;
  Duration shortest_interval() const;
  Voltage hysteresis() const { return Voltage{hysteresis_}; }
  /// Rows from the lowest voltage up.
  const std::vector<PolicyRow>& rows() const { return rows_; }
  /// Where a row stood in the table as it was given, from 0.
  std::size_t place(std::size_t row) const { return places_[row]; }

 private:
  std::vector<PolicyRow> rows_;
  std::vector<std::size_t> places_;
  double hysteresis_ = 0;
};

}  // namespace overwinter
