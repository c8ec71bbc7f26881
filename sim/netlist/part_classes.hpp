// Part classes: named sets of parameters of a model, from the files inside the program and from files beside a
// scenario.
//
//   nmc-18650-3000mah:              # lower-case letters, digits, - _ . ; begins with a letter
//     model: cell
//     note: energy-type cylindrical cell
//     capacity: 3000 mAh            # a comment says where a datasheet has the number; `explain` shows it
//     charge_limit: {nominal: 4.2 V, low: 4.15 V}      # corner values, see corners.hpp
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "models/table.hpp"
#include "sim/netlist/document.hpp"

namespace overwinter {

struct PartClass {
  std::string name, note;
  const ModelTable* table = nullptr;  ///< null if its model is not known
  std::shared_ptr<const Document> document;
  const Node::Entry* entry = nullptr;  ///< inside the document
  bool built_in = false;
  bool sound = false;  ///< false: faults were reported for it
};

/// The keys of a part class that are not parameters.
const std::vector<std::string>& part_class_keys();

class PartLibrary {
 public:
  /// The classes inside the program. Throws std::logic_error if one of them is faulty.
  static const PartLibrary& built_in();

  /// Adds and checks the classes of a file. A name that is taken is a fault with both places.
  void add(std::shared_ptr<const Document>, bool built_in, Faults&);
  /// Some class file could not be read, so an unknown class is no reason to complain.
  void set_incomplete() { complete_ = false; }
  bool is_complete() const { return complete_; }

  const PartClass* find(const std::string& name) const;
  /// In name order.
  const std::map<std::string, PartClass>& all() const { return classes_; }
  /// The names of the classes of a model, in name order; of all models for null.
  std::vector<std::string> names(const ModelTable*) const;

 private:
  std::map<std::string, PartClass> classes_;
  bool complete_ = true;
};

/// The model named by a node, or null and a fault.
const ModelTable* read_model_name(const Document&, const Node&, Faults&);

/// Part, line and class names begin with a lower-case letter, net names also with a digit; lower-case letters, digits
/// and the given signs follow. Adds a fault about `key` if it is otherwise. Returns the name, or the one that is meant.
std::string check_name(const std::string& what, const std::string& signs, bool digit_first, const Document&,
                       const Node& key, Faults&);

}  // namespace overwinter
