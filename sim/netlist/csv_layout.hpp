// What a scenario says about the columns of a CSV weather file.
#pragma once

#include <optional>
#include <string>

#include "models/model.hpp"
#include "models/table.hpp"
#include "models/units.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/time_text.hpp"

namespace overwinter {

/// Where in its interval a row's time stamp lies.
enum class Stamp { begin, middle, end };

/// One column. `si = offset + scale * written`.
struct CsvColumn {
  std::string key;   ///< of the weather section
  std::string name;  ///< in the header, or else the column's number, from 1
  std::string unit;
  double scale = 1, offset = 0;
  bool sum = false;       ///< a sum over the row's interval, J/m2 in SI, and not a mean
  Fault::Other named_at;  ///< where the scenario names it
};

struct CsvTime {
  CsvColumn column;
  std::optional<CsvColumn> clock;  ///< the time of day where it has a column of its own
  TimeForm form;
  std::optional<ClockTime> since;      ///< of a column of numbers: where they count from
  std::optional<Duration> utc_offset;  ///< of times that do not say it; none: the site's standard time
  Stamp stamp = Stamp::end;
};

struct CsvFormat {
  int separator = 0;  ///< index of csv_separators
  bool decimal_comma = false;
  std::string missing;              ///< texts that stand for a missing value, with blanks between them
  int header = 1;                   ///< the line with the columns' names; 0 without
  std::optional<int> rows_from;     ///< the line where the rows begin; none: the one after the header
  Duration fill = 3 * units::hour;  ///< the longest gap that is filled
};

inline constexpr char csv_separators[] = {',', ';', '\t'};

/// The air and enough light: global, or direct and diffuse.
struct CsvLayout {
  CsvFormat format;
  CsvTime time;
  std::optional<CsvColumn> global_horizontal, direct_normal, diffuse_horizontal;
  CsvColumn air;
};

}  // namespace overwinter
