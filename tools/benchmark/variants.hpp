// Scenarios made from a shipped one.
#pragma once

#include <string>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

struct Phased {
  std::string yaml;    ///< of a scenario whose files are named in full
  std::size_t phases;  ///< of a wake
};

/// The scenario at `path`, each phase of its controller cut into `pieces` of equal length. The controller's current
/// lies by turns 10 % above and below the phase's, so that every piece begins with a load step and a wake takes much
/// the same charge. Throws std::runtime_error for a scenario without phases.
Phased with_phases_cut(const std::string& path, int pieces);

/// The scenario at `path` with its files named in full, over its first `days` only.
std::string shortened(const std::string& path, int days);

}  // namespace overwinter
