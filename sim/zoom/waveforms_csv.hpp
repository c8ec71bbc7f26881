// Waveforms as CSV (RFC 4180), in the form of the trace.csv and events.csv of a run.
#pragma once

#include <string>

#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// A row for each time: UTC (ISO 8601, to the nanosecond), microseconds from the moment, then every signal in its unit;
/// a regime as its label. Throws std::invalid_argument as require_sound().
std::string waveforms_csv(const Waveforms&);

/// A row for each mark.
std::string marks_csv(const Waveforms&);

}  // namespace overwinter
