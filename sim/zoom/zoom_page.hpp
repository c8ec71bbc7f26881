// The waveforms as a page to read, in one file that needs no network: panes on one time axis, then tables of what
// happened and of what every signal did, which tell the same without a script.
#pragma once

#include <string>

#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// The page. The same waveforms give the same bytes. Throws std::invalid_argument as require_sound().
std::string zoom_html(const Waveforms&);

}  // namespace overwinter
