// Where faults open or short a part, the wiring has joints from the run's begin (models/paths/joint.hpp): one in series
// with each pin of a part that is to be opened but one, the pins on the reference among those that are left; one across
// the first two pins of a part that is to be shorted. Until the fault they are sound, or not there.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

struct JointedNetlist {
  std::vector<ScenarioPart> parts;  ///< the scenario's, then the joints
  std::vector<ScenarioNet> nets;    ///< those behind broken joints last
  /// Per fault of the scenario the joints that make it, as indices of parts; empty for those that need none.
  std::vector<std::vector<std::size_t>> joints_of;
};

JointedNetlist with_joints(const Scenario&);

}  // namespace overwinter
