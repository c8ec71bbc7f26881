// The report's charts: figures that describe themselves in words, and the numbers that report.js draws.
#pragma once

#include "sim/report/facts.hpp"
#include "sim/report/html.hpp"
#include "sim/report/report.hpp"
#include "sim/report/texts.hpp"

namespace overwinter {

/// Completed wakes day by day of the site's standard time.
struct DailyWakes {
  Tick first_day = 0;  ///< its midnight
  std::vector<int> count;
};

/// From the day of the first time to the day of the last (a last time at midnight begins no day). Without times, the
/// days of the wakes.
DailyWakes daily_wakes(const ReportSeries&);

/// One figure per series that has values, the daily wakes where there is service; empty if there is nothing to draw.
/// Extremes are told from the summary's `cell` where they stand there.
Html chart_figures(const Facts& summary, const ReportSeries&);

/// How far apart the values drawn are, and what that hides; empty without any.
Html drawing_described(const ReportSeries&);

/// How brown-outs are marked, and when they were (the first dozen); empty without any.
Html marks_described(const ReportSeries&);

/// JSON of numbers only, so that no text can leave its script element. Times are milliseconds since the epoch on the
/// site's standard time; a column is the differences of whole multiples of 1/scale, null where there is no value.
/// Throws std::invalid_argument for a series of another length than `time`.
std::string chart_data(const Facts& summary, const ReportSeries&);

}  // namespace overwinter
