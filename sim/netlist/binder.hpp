// Fills a model's parameter struct from YAML through the descriptions of its fields only.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "models/table.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

/// A value for a field and the file in which it stands.
struct Written {
  const Document* document = nullptr;
  const Node::Entry* entry = nullptr;
};

/// By key. A later layer replaces the values of an earlier one as a whole: curves are not merged.
using WrittenValues = std::map<std::string, Written>;

/// Adds the entries of a mapping. Keys that are neither a field nor in `other_keys` are faults: "OWNER has no key ...".
/// A key that seems misspelled is taken as what it seems to mean, so that its value is checked too. Returns the keys
/// that were suggested.
std::vector<std::string> collect(const std::vector<Field>&, const std::vector<std::string>& other_keys,
                                 const std::string& owner, const Document&, const Node& mapping, WrittenValues&,
                                 Faults&);

/// Sets each field that is written; null leaves the default. False if there was any fault.
bool bind_fields(const std::vector<Field>&, const WrittenValues&, void* parameters, Faults&);

/// The required fields that nobody gives.
std::vector<const Field*> missing_fields(const std::vector<Field>&, const WrittenValues&);

/// "resistance: NUMBER ohm (resistance at 20 degC)" for each of the fields.
std::string how_to_write(const std::vector<const Field*>&);

/// Where under the entry of its field a finding belongs: at the row and column it names, if any.
const Node& place_of(const Finding&, const Node::Entry&);

}  // namespace overwinter
