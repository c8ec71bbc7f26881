// One model with the ranges in which tests pick operating points at random.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "tests/models/support/alone.hpp"

namespace overwinter::test {

struct Range {
  double low, high;
};

struct Example {
  std::string label;
  std::shared_ptr<const Model> model;
  std::vector<Range> pins;      ///< against ground, V
  std::vector<Range> unknowns;  ///< start of the search for them, V
  std::vector<Range> states;    ///< SI
  std::vector<Range> lines;     ///< SI
  std::vector<int> memory;      ///< highest value of each integer; the lowest is 0
  bool passive = false;         ///< can never deliver net power
  bool transient = false;       ///< View::transient
};

}  // namespace overwinter::test
