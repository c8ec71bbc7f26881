// The keys of a scenario's weather section, described like the parameters of a model.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "models/table.hpp"
#include "sim/netlist/csv_layout.hpp"

namespace overwinter {

/// A mapping below the weather section that describes one column as it is written.
struct WrittenColumn {
  std::string column, unit;
};
struct WrittenTime {
  std::string column, clock, form, unit, since;
  std::optional<Duration> utc_offset;
  Stamp stamp = Stamp::end;
};

/// One such mapping: its key, what it is for, and its fields.
struct WeatherColumn {
  std::string key, meaning;
  Unit unit;           ///< of its values; of the time, seconds
  bool light = false;  ///< may also be a sum over the row's interval
};

/// Those with values, in the order in which they are told; the last is the air temperature.
const std::vector<WeatherColumn>& weather_columns();
/// Light summed up.
Unit light_sum();

/// Of csv_separators.
const std::vector<std::string>& csv_separator_names();

/// The fields of a WrittenColumn, of a WrittenTime, and of a CsvFormat.
const std::vector<Field>& column_fields();
const std::vector<Field>& time_fields();
const std::vector<Field>& csv_fields();

}  // namespace overwinter
