// The section `parts` of a scenario: NAME: {model: MODEL, part: PART CLASS, corners: {...}, PARAMETERS...}.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/netlist/document.hpp"
#include "sim/netlist/part_classes.hpp"
#include "sim/netlist/policy_reader.hpp"

namespace overwinter {

/// A part as far as it could be read.
struct ReadPart {
  std::string name;  ///< of one that was refused, the name that may be meant
  std::string part_class;
  const ModelTable* table = nullptr;   ///< null if the model is not known; a fault says why
  std::shared_ptr<const Model> model;  ///< null if anything about the part is wrong
  const Node* key = nullptr;
  std::shared_ptr<const void> parameters = {};  ///< as far as they could be read; null without a table
};

/// The keys of a part that are not parameters.
const std::vector<std::string>& part_keys();

/// All parts, in name order. Those that ask the wake policy are given it.
std::vector<ReadPart> read_parts(const Document&, const Node& parts, const PartLibrary&, const ReadPolicy&, Faults&);

}  // namespace overwinter
