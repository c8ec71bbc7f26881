// A moment of a run, to the microsecond.
//
// The run is replayed as it is without the zoom, up to the window's begin. From there on the fast stores are integrated
// too (sim/engine/transient.hpp), and every step and event is taken down. Where the run itself has gone through a
// transient in which something failed (sim/engine/microscope.hpp), it has no settled state inside of that: a window
// that would begin there begins where that transient did.
//
// The window always starts from the file that a later zoom can start from, so that the same scenario gives the same
// bytes from either.
#pragma once

#include <optional>
#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/replay/simulate.hpp"
#include "sim/zoom/waveforms.hpp"
#include "sim/zoom/zoom_request.hpp"

namespace overwinter {

struct Zoom {
  Waveforms waveforms;
  std::string moment;  ///< what the file that it can be started from holds: sim/zoom/saved_moment.hpp
};

/// `scenario` has the weather's span; `diagram` is its wiring. Throws InputError where the run has no such moment or
/// the window has more rows than a table or page is good for, SimulationError.
Zoom zoom(const Scenario&, const Weather&, const Diagram&, const RunOptions&, const ZoomRequest&);

/// From what a zoom has saved as `path`; `after` the moment in place of that zoom's.
Zoom zoom_from(const std::string& path, const std::string& text, std::optional<Tick> after, const Scenario&,
               const Weather&, const Diagram&, const RunOptions&);

}  // namespace overwinter
