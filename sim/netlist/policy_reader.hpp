// The section `policy` of a scenario: how long the instrument sleeps.
#pragma once

#include <memory>
#include <vector>

#include "models/policy.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// The policy as far as it could be read.
struct ReadPolicy {
  std::shared_ptr<const Policy> policy;  ///< null if there is none or anything is wrong about it
  bool written = false;                  ///< the scenario has one, or a fault says why it seems to have none
};

ReadPolicy read_policy(const Document&, const Node::Entry& section, Faults&);

}  // namespace overwinter
