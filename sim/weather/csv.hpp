// Weather records in CSV files, whose columns a scenario describes.
#pragma once

#include <string>

#include "sim/netlist/csv_layout.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// Reads and checks a CSV file for these spans.
///
/// Values are converted to W/m2 (sums over the interval divided by it) and degC. Light down to -30 W/m2 counts as zero,
/// with a warning; light that is missing while the sun is down is none. Gaps up to the layout's limit are filled by
/// straight lines between the values around them, column by column, with a warning; longer ones are faults where the
/// span needs them. Throws InputError with up to 20 faults: unreadable file, column not found, quotes that do not
/// close, rows of unequal length, time or number that is none, rows out of order or not evenly apart, apart by less
/// than a minute or more than a day, values out of range (-30...2000 W/m2, -90...70 degC), gaps too long, a span that
/// the rows do not cover.
MeasuredRecord read_csv(const std::string& path, const CsvLayout&, const Site&, const std::vector<DaySpan>& spans);

}  // namespace overwinter
