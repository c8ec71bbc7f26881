// The files of a zoom.
#pragma once

#include <string>
#include <vector>

#include "sim/replay/run_folder.hpp"
#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// Which forms are asked for.
struct ZoomForms {
  bool csv = true, vcd = true, html = true;
};

/// Writes waveforms.csv, waveforms.vcd and waveforms.html into the folder, which is not published by it, and the marks
/// as events.csv unless the dump alone is asked for. Returns the names. Throws std::runtime_error when a file cannot be
/// written, std::invalid_argument as require_sound().
std::vector<std::string> write_zoom(const Waveforms&, const ZoomForms&, const RunFolder&);

}  // namespace overwinter
