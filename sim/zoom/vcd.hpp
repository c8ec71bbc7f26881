// Waveforms as a four-state VCD file (value change dump) after IEEE Std 1364-2005, clause 18.2, for any wave viewer.
//
// A scope for the nets, the lines and each part. Voltages, currents and other quantities are real variables with their
// unit behind the name; a logic level is a wire of one bit; a regime an integer, its numbers explained in a comment;
// each kind of event an event variable. A dump changes in steps: where a real runs straight between two rows, its value
// at the later one is dumped at the later one. Time 0 is the first row; comments tell which instant that is and at
// which time the moment lies.
#pragma once

#include <string>

#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// `file`: the name it is to have, which the standard's header tells. The same waveforms give the same bytes: it
/// carries no date. Throws std::invalid_argument as require_sound().
std::string vcd_text(const Waveforms&, const std::string& file);

/// A simple identifier of the standard's (letters, digits, _ and $, not beginning with a digit or $) for any text:
/// "cell+" becomes "cell_plus", "panel-south" becomes "panel_south".
std::string vcd_identifier(const std::string& text);

}  // namespace overwinter
