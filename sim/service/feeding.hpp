// Which nets hang on the cell or a panel as the switches stand.
//
// Everything that carries a supply counts as a way (wires, shunts, diodes, protectors, chargers, converters, solder
// joints), whether or not it feeds at that moment: what a cut keeps away is still wanted. A switch that is off is none,
// for that is what a switch is there for.
#pragma once

#include <cstddef>
#include <vector>

#include "sim/engine/diagram.hpp"
#include "sim/engine/evaluator.hpp"

namespace overwinter {

class Feeding {
 public:
  explicit Feeding(const Diagram&);

  /// Whether a way leads to the net from a cell or panel. Ground is always fed, and so is all where there is neither.
  bool fed(int net, const Evaluator&) const;
  /// Whether a way leads from one net to the other.
  bool joined(int net, int other, const Evaluator&) const;

 private:
  struct Way {
    std::size_t part;
    int a, b;
    const Output* conducting;  ///< of a switch; null for what always is a way
  };
  /// The nets that ways lead to from these.
  std::vector<bool> reached(const std::vector<int>& from, const Evaluator&) const;

  std::size_t nets_;
  std::vector<Way> ways_;
  std::vector<int> sources_;
};

}  // namespace overwinter
