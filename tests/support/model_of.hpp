// The model of a scenario's part by its name.
#pragma once

#include <stdexcept>
#include <string>

#include "sim/netlist/scenario.hpp"

namespace overwinter::test {

/// Throws std::logic_error where there is no such part, std::bad_cast where it is of another model.
template <class M>
const M& model_of(const Scenario& scenario, const std::string& name) {
  for (const ScenarioPart& p : scenario.parts) {
    if (p.name == name) return dynamic_cast<const M&>(*p.model);
  }
  throw std::logic_error("no part " + name);
}

}  // namespace overwinter::test
