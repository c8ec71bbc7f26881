// Sets of nets that are joined through parts.
#pragma once

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <vector>

namespace overwinter {

class Groups {
 public:
  explicit Groups(std::size_t size) : parent_(size) { std::iota(parent_.begin(), parent_.end(), std::size_t{0}); }
  std::size_t of(std::size_t i) const { return parent_[i] == i ? i : of(parent_[i]); }
  void join(std::size_t a, std::size_t b) { parent_[std::max(of(a), of(b))] = std::min(of(a), of(b)); }

 private:
  std::vector<std::size_t> parent_;
};

}  // namespace overwinter
