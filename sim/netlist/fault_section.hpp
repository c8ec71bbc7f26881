// Reads the section `faults` of a scenario, and faults given as text.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/document.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// What faults can befall.
struct FaultBearers {
  const std::vector<ScenarioPart>& parts;
  bool complete = true;         ///< every part that is written is among them
  std::optional<DaySpan> span;  ///< none where it could not be read
};

/// The keys that each entry may have, whatever its kind, and a struct to bind them to.
struct FaultFrame {
  std::string part, fault, at;
  std::optional<Duration> lasts;
};
const std::vector<Field>& fault_frame_fields();

/// The entries of the section, which is a list, in their order.
std::vector<TimedFault> read_faults(const Document&, const Node& list, const FaultBearers&, Faults&);

/// Adds faults that are written as a sentence each, PART KIND, then keys with their values, to those of a scenario that
/// was read: "panel-south soiled by 60 % at 2025-01-10 06:00 for 5 d". Throws InputError with every fault found.
void add_faults(Scenario&, const std::vector<std::string>& sentences);

}  // namespace overwinter
