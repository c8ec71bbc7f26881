// report.html: one run as a page to read, in one file that needs no network.
//
// The verdict comes first, then requirements, service, brown-outs and margins in tables, then charts on one time axis,
// then the ledger and how the run was made. A chapter whose part of the summary is missing or null is left out.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "models/model.hpp"

namespace overwinter {

/// What the charts show. A series without any value gets no chart; the others have a value for each time, not a number
/// where there is none.
struct ReportSeries {
  std::vector<Tick> time;                ///< ascending
  std::vector<double> voltage;           ///< of the cell, V
  std::vector<double> charge;            ///< state of charge, 0...1
  std::vector<double> cell_temperature;  ///< degC
  std::vector<double> air;               ///< degC
  std::vector<double> light;             ///< W/m2, global on the horizontal
  std::vector<Tick> wakes;               ///< ends of completed wakes, ascending
  std::vector<Tick> brownouts;           ///< ascending, the n-th is Bn in the table
  Tick utc_offset = 0;                   ///< the site's standard time minus UTC
};

/// The page. The same summary (but for its wall time) and series give the same bytes. Throws std::invalid_argument for
/// a series of another length than `time`.
std::string report_html(const nlohmann::ordered_json& summary, const ReportSeries&);

}  // namespace overwinter
