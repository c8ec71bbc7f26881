#include "sim/revive/boxes.hpp"

#include <algorithm>
#include <iterator>
#include <numeric>

namespace overwinter {
namespace {

using Values = std::vector<std::vector<std::size_t>>;

class Table {
 public:
  Table(const std::vector<TableRow>& rows, const std::vector<std::size_t>& sizes, const std::vector<std::size_t>& order)
      : rows_(rows), sizes_(sizes), order_(order) {}

  Values widened(const TableRow& seed) const {
    Values box;
    for (const std::size_t value : seed.values) box.push_back({value});
    for (const std::size_t d : order_) {
      const std::vector<std::size_t> narrow = box[d];
      box[d].resize(sizes_[d]);
      std::iota(box[d].begin(), box[d].end(), std::size_t{0});
      if (is_pure(box, seed.outcome)) continue;
      box[d] = narrow;
      for (std::size_t value = 0; value < sizes_[d]; ++value) {
        if (value == seed.values[d]) continue;
        const std::vector<std::size_t> before = box[d];
        box[d].insert(std::lower_bound(box[d].begin(), box[d].end(), value), value);
        if (!is_pure(box, seed.outcome) || !adds(box, d, value)) box[d] = before;
      }
    }
    return box;
  }

  /// Those of `among` that are in the box.
  std::vector<std::size_t> inside(const Values& box, const std::vector<std::size_t>& among) const {
    std::vector<std::size_t> found;
    for (const std::size_t i : among) {
      if (contains(box, rows_[i])) found.push_back(i);
    }
    return found;
  }

 private:
  static bool contains(const Values& box, const TableRow& row) {
    for (std::size_t d = 0; d < row.values.size(); ++d) {
      if (!std::binary_search(box[d].begin(), box[d].end(), row.values[d])) return false;
    }
    return true;
  }
  bool is_pure(const Values& box, const std::string& outcome) const {
    return std::none_of(rows_.begin(), rows_.end(),
                        [&](const TableRow& r) { return r.outcome != outcome && contains(box, r); });
  }

  /// Whether the value brings a row into the box.
  bool adds(const Values& box, std::size_t d, std::size_t value) const {
    return std::any_of(rows_.begin(), rows_.end(),
                       [&](const TableRow& r) { return r.values[d] == value && contains(box, r); });
  }

  const std::vector<TableRow>& rows_;
  const std::vector<std::size_t>&sizes_, &order_;
};

}  // namespace

std::vector<Box> boxes_of(const std::vector<TableRow>& rows, const std::vector<std::size_t>& sizes,
                          const std::vector<std::size_t>& order) {
  const Table table(rows, sizes, order);
  std::vector<std::string> outcomes;
  for (const TableRow& r : rows) {
    if (std::find(outcomes.begin(), outcomes.end(), r.outcome) == outcomes.end()) outcomes.push_back(r.outcome);
  }
  std::vector<Box> all;
  for (const std::string& outcome : outcomes) {
    std::vector<std::size_t> left;
    std::vector<Values> candidates;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (rows[i].outcome != outcome) continue;
      left.push_back(i);
      Values box = table.widened(rows[i]);
      if (std::find(candidates.begin(), candidates.end(), box) == candidates.end())
        candidates.push_back(std::move(box));
    }
    while (!left.empty()) {
      Box best{outcome, {}, {}};
      for (const Values& box : candidates) {
        std::vector<std::size_t> covered = table.inside(box, left);
        if (covered.size() > best.rows.size()) best = {outcome, box, std::move(covered)};
      }
      std::vector<std::size_t> still;
      std::set_difference(left.begin(), left.end(), best.rows.begin(), best.rows.end(), std::back_inserter(still));
      left = std::move(still);
      all.push_back(std::move(best));
    }
  }
  return all;
}

}  // namespace overwinter
