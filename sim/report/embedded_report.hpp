// What every report and page of waveforms is made of, embedded at build time: the pieces of pages, styles and scripts
// of sim/report and sim/zoom, and the chart library (dygraph.min.js, dygraph.min.css) with its licence (copyright).
#pragma once

#include <vector>

#include "sim/netlist/embedded_parts.hpp"

namespace overwinter {

const std::vector<EmbeddedFile>& embedded_report();

}  // namespace overwinter
