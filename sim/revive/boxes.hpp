// Many rows of a table with the same outcome told as few boxes: a set of values for each dimension.
//
// A box holds no row of another outcome; combinations that are no rows count as fitting. Each row is widened to a box,
// dimension by dimension, each as far as it goes: to all values, else by one value after the other that brings a row of
// its own. Of these boxes the one that covers most rows of the outcome is taken, then the one that covers most of the
// rest, and so on (greedy set cover: Chvatal 1979, Math. Oper. Res. 4, 233-235, from memory). Boxes may overlap.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace overwinter {

struct Box {
  std::string outcome;
  std::vector<std::vector<std::size_t>> values;  ///< per dimension, ascending
  std::vector<std::size_t> rows;                 ///< that it is the first to cover
};

struct TableRow {
  std::vector<std::size_t> values;
  std::string outcome;
};

/// `sizes`: values of each dimension. `order`: in which dimensions are widened, the first one first. Outcomes in the
/// order in which they first come.
std::vector<Box> boxes_of(const std::vector<TableRow>&, const std::vector<std::size_t>& sizes,
                          const std::vector<std::size_t>& order);

}  // namespace overwinter
