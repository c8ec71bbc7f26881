// The numbers that zoom.js draws.
#pragma once

#include <string>

#include "sim/zoom/panes.hpp"

namespace overwinter {

/// JSON of numbers only, so that no text can leave its script element:
///   time     nanoseconds: of the first row from the moment, then from row to row
///   signals  in the order of the waveforms, each the differences from row to row of whole multiples of 1/scale, the
///   first
///            one from 0; a 0 is followed by how many there are in a row. 1/scale is at most 1e-5 of the signal's
///            change
///   marks    time from the moment in nanoseconds, number of the lane (parts in the order of their first mark), number
///            of the event in that lane (likewise)
///   thresholds  signal and value
std::string zoom_data(const Waveforms&, const std::vector<Extent>&);

/// The lanes of marks, each with its kinds of events, in the order that zoom_data() numbers them in.
struct MarkLane {
  std::string group;
  std::vector<std::string> events;
};
std::vector<MarkLane> mark_lanes(const Waveforms&);

}  // namespace overwinter
