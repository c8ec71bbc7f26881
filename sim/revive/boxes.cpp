#include "sim/revive/boxes.hpp"

#include <algorithm>
#include <numeric>

namespace overwinter {
namespace {

using Values = std::vector<std::vector<std::size_t>>;

bool contains(const Values& box, const std::vector<std::size_t>& row) {
  for (std::size_t d = 0; d < row.size(); ++d) {
    if (!std::binary_search(box[d].begin(), box[d].end(), row[d])) return false;
  }
  return true;
}

bool is_pure(const Values& box, const std::string& outcome, const std::vector<TableRow>& rows) {
  return std::none_of(rows.begin(), rows.end(),
                      [&](const TableRow& r) { return r.outcome != outcome && contains(box, r.values); });
}

Values widened(const TableRow& seed, const std::vector<TableRow>& rows, const std::vector<std::size_t>& sizes,
               const std::vector<std::size_t>& order) {
  Values box;
  for (const std::size_t value : seed.values) box.push_back({value});
  for (const std::size_t d : order) {
    const std::vector<std::size_t> narrow = box[d];
    box[d].resize(sizes[d]);
    std::iota(box[d].begin(), box[d].end(), std::size_t{0});
    if (is_pure(box, seed.outcome, rows)) continue;
    box[d] = narrow;
    for (std::size_t value = 0; value < sizes[d]; ++value) {
      if (value == seed.values[d]) continue;
      const std::vector<std::size_t> before = box[d];
      box[d].insert(std::lower_bound(box[d].begin(), box[d].end(), value), value);
      if (!is_pure(box, seed.outcome, rows)) box[d] = before;
    }
  }
  return box;
}

}  // namespace

std::vector<Box> boxes_of(const std::vector<TableRow>& rows, const std::vector<std::size_t>& sizes,
                          const std::vector<std::size_t>& order) {
  std::vector<std::string> outcomes;
  for (const TableRow& r : rows) {
    if (std::find(outcomes.begin(), outcomes.end(), r.outcome) == outcomes.end()) outcomes.push_back(r.outcome);
  }
  std::vector<Box> all;
  for (const std::string& outcome : outcomes) {
    std::vector<bool> covered(rows.size(), false);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (covered[i] || rows[i].outcome != outcome) continue;
      Box box{outcome, widened(rows[i], rows, sizes, order), {}};
      for (std::size_t j = 0; j < rows.size(); ++j) {
        if (covered[j] || rows[j].outcome != outcome || !contains(box.values, rows[j].values)) continue;
        covered[j] = true;
        box.rows.push_back(j);
      }
      all.push_back(std::move(box));
    }
  }
  return all;
}

}  // namespace overwinter
