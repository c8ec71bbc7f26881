// What every report is made of, embedded at build time: page.html, charts.html, drawing.html, report.css, report.js,
// and the chart library (dygraph.min.js, dygraph.min.css) with its licence (copyright).
#pragma once

#include <vector>

#include "sim/netlist/embedded_parts.hpp"

namespace overwinter {

const std::vector<EmbeddedFile>& embedded_report();

}  // namespace overwinter
