// The section `require` of a scenario: what the instrument must achieve for its design to be called good.
//
//   require:
//     longest_gap: {at_most: 24 h}
//     needs_human: {at_most: 0, sunny_days: 5}
//
// Some of them hold although the scenario does not name them, see Standing.
#pragma once

#include <string>
#include <vector>

#include "models/policy.hpp"
#include "models/table.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// One limit that a run is held against.
struct Requirement {
  std::string name;
  bool at_most = true;  ///< false: at least
  double limit = 0;     ///< SI
  Unit unit;
  Place place;              ///< its key; without a line where it holds by default
  bool by_default = false;  ///< the scenario does not name it
};

struct Requirements {
  std::vector<Requirement> all;  ///< in the order of requirement_kinds()
  int sunny_days = 3;            ///< after the light's return until an instrument that has not woken needs a human
};

/// When a requirement holds that the scenario does not name.
enum class Standing {
  if_named,
  always,           ///< also beside others that it names
  nothing_required  ///< where nothing is required but what always is: the minimum service
};

/// One thing that can be required.
struct RequirementKind {
  std::string name;
  std::string meaning;
  bool at_most;
  std::vector<Field> fields;  ///< of a RequirementLimit; the first is the limit
  bool of_wakes = true;       ///< means nothing where no part can complete a wake
  Standing standing = Standing::if_named;
};

/// What stands under the name of a requirement.
struct RequirementLimit {
  double limit = 0;  ///< SI
  int sunny_days = 3;
};

/// Everything that can be required.
const std::vector<RequirementKind>& requirement_kinds();

/// Whether parts of this model have an event of this role; those of wake_completed can complete a wake.
bool has_event(const ModelTable&, EventRole);

/// Reads the section. `wakes`: a part of the scenario can complete a wake.
Requirements read_requirements(const Document&, const Node& section, bool wakes, Faults&);

/// What a scenario is held against.
struct Asked {
  bool wakes = true;               ///< a part of it can complete a wake
  bool section = true;             ///< it has the section `require`
  const Policy* policy = nullptr;  ///< may be null
  std::string path;                ///< of its file
};

/// Adds what holds without being named, in the order of requirement_kinds(). Always: no brown-out, and no damage.
/// Without the section also a completed wake within a day, or within the policy's longest interval where that is
/// longer, each with an hour's grace; and nobody called out. Where nothing wakes, of these only: no damage.
void add_defaults(const Asked&, Requirements&);

}  // namespace overwinter
