// How waveforms are laid out for reading: one pane for what shares a unit, and what stands still set apart.
#pragma once

#include <string>
#include <vector>

#include "sim/zoom/waveforms.hpp"

namespace overwinter {

/// Where a signal was lowest and highest, and whether that can be seen.
struct Extent {
  double least = 0, most = 0;               ///< in the signal's unit
  std::size_t least_row = 0, most_row = 0;  ///< the first each
  bool moves = false;
};

/// A signal that takes in every row the value of another one of its pane that is drawn.
struct Alike {
  std::size_t signal, drawn;
};

struct Pane {
  std::string title;
  bool lanes = false;                      ///< levels and regimes in lanes of their own, else courses on one scale
  std::vector<std::size_t> moving, still;  ///< signals, in the order of the waveforms
  std::vector<Alike> alike;                ///< they move too
};

/// Of each signal. A level or regime moves if it changes at all; another signal if it changes by more than a line is
/// wide: by 1/500 of the largest change in its unit, and by 1e-5 (voltages and currents; 1e-3 of the others, which
/// drift) of the largest value in it.
std::vector<Extent> extents(const Waveforms&);

/// Voltages first, then currents, levels and regimes, and the rest by unit; every signal is in one. Neither lanes nor
/// signals with a threshold are taken for alike.
std::vector<Pane> panes(const Waveforms&, const std::vector<Extent>&);

}  // namespace overwinter
