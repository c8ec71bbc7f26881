// Many rows of a table with the same outcome told as few boxes: a set of values for each dimension.
//
// A box holds no row of another outcome; combinations that are no rows count as fitting. Each box begins with the first
// row that no box of its outcome covers yet, and is widened dimension by dimension, each as far as it goes: to all
// values, else by one value after the other. Boxes may overlap; each covers a row that those before it do not.
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
