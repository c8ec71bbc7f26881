#include "sim/engine/compiled_lu.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace overwinter {

namespace {

constexpr double least_pivot = 0.1;  // u, common practice

/// The pattern with what elimination fills, and the order.
struct Symbolic {
  Symbolic(std::size_t n, std::size_t late, const std::vector<CompiledLu::Place>& pattern)
      : filled(n, std::vector<char>(n, 0)) {
    for (const auto& [row, column] : pattern) filled.at(row).at(column) = 1;
    for (std::size_t i = 0; i < n; ++i) filled[i][i] = 1;
    std::vector<std::uint32_t> left(n);
    for (std::uint32_t i = 0; i < n; ++i) left[i] = i;
    while (!left.empty()) {
      const auto begin = left.back() < late ? left.begin() : std::lower_bound(left.begin(), left.end(), late);
      const auto pivot = std::min_element(
          begin, left.end(), [&](std::uint32_t a, std::uint32_t b) { return cost(a, left) < cost(b, left); });
      const std::uint32_t k = *pivot;
      order.push_back(k);
      left.erase(pivot);
      for (const std::uint32_t i : left) {
        if (!filled[i][k]) continue;
        for (const std::uint32_t j : left) filled[i][j] |= filled[k][j];
      }
    }
  }

  std::size_t cost(std::uint32_t k, const std::vector<std::uint32_t>& left) const {
    std::size_t row = 0, column = 0;
    for (const std::uint32_t i : left) {
      row += filled[k][i] != 0;
      column += filled[i][k] != 0;
    }
    return (row - 1) * (column - 1);
  }

  std::vector<std::vector<char>> filled;
  std::vector<std::uint32_t> order;
};

}  // namespace

CompiledLu::CompiledLu(std::size_t n, std::size_t late, const std::vector<Place>& pattern) : early_(n - late) {
  const Symbolic s(n, late, pattern);
  std::vector<std::vector<std::uint32_t>> at(n, std::vector<std::uint32_t>(n));
  const auto place = [&](std::uint32_t row, std::uint32_t column, std::uint32_t other) {
    if (!s.filled[row][column]) return;
    at[row][column] = static_cast<std::uint32_t>(places_.size());
    places_.emplace_back(row, column);
    other_.push_back(other);
  };
  const auto end = [](const auto& list) { return static_cast<std::uint32_t>(list.size()); };
  pivots_.resize(n);
  for (std::size_t k = 0; k < n; ++k) {
    pivots_[k].unknown = s.order[k];
    place(s.order[k], s.order[k], s.order[k]);
  }
  for (std::size_t k = 0; k < n; ++k) {
    pivots_[k].below_begin = end(places_);
    for (std::size_t i = k + 1; i < n; ++i) place(s.order[i], s.order[k], s.order[i]);
    pivots_[k].below_end = end(places_);
  }
  for (std::size_t k = n; k-- > 0;) {
    pivots_[k].right_begin = end(places_);
    for (std::size_t j = k + 1; j < n; ++j) place(s.order[k], s.order[j], s.order[j]);
    pivots_[k].right_end = end(places_);
  }
  for (Pivot& pivot : pivots_) {
    for (std::uint32_t r = pivot.right_begin; r < pivot.right_end; ++r) {
      for (std::uint32_t e = pivot.below_begin; e < pivot.below_end; ++e) {
        products_.push_back({at[other_[e]][other_[r]], e, r});
      }
    }
    pivot.product_end = end(products_);
  }
}

std::uint32_t CompiledLu::index(std::size_t row, std::size_t column) const {
  for (std::uint32_t i = 0; i < places_.size(); ++i) {
    if (places_[i].first == row && places_[i].second == column) return i;
  }
  throw std::out_of_range("no such entry in the pattern");
}

bool CompiledLu::factor(const double* matrix) {
  Numbers& numbers = numbers_.renew();
  numbers.values.assign(matrix, matrix + places_.size());
  numbers.entries.resize(places_.size());
  numbers.below_end.resize(pivots_.size());
  numbers.right_end.resize(pivots_.size());
  numbers.sign = 1;
  double* a = numbers.values.data();
  double sum = 0;
  const Product* product = products_.data();
  for (std::size_t k = 0; k < pivots_.size(); ++k) {
    const Pivot& pivot = pivots_[k];
    const double value = a[k], size = std::abs(value);
    if (!(size > 0) || !std::isfinite(size)) return false;
    double in_row = 0, in_column = 0;
    for (std::uint32_t e = pivot.right_begin; e < pivot.right_end; ++e) {
      in_row = std::max(in_row, std::abs(a[e]));
      sum += a[e];
    }
    for (std::uint32_t e = pivot.below_begin; e < pivot.below_end; ++e) {
      in_column = std::max(in_column, std::abs(a[e]));
    }
    if (!(size >= least_pivot * (k < early_ ? in_row : std::min(in_row, in_column)))) return false;  // (1), (2)
    if (value < 0) numbers.sign = -numbers.sign;
    const double inverse = a[k] = 1 / value;
    for (std::uint32_t e = pivot.below_begin; e < pivot.below_end; ++e) sum += a[e] *= inverse;
    for (const Product* last = products_.data() + pivot.product_end; product != last; ++product) {
      a[product->target] -= a[product->below] * a[product->right];
    }
  }
  if (!std::isfinite(sum)) return false;
  list_entries(numbers);
  return true;
}

/// What is zero by its value (a switch that is off) is left out too: there are many solutions to a factorisation.
void CompiledLu::list_entries(Numbers& numbers) const {
  Entry* entry = numbers.entries.data();
  const auto list = [&](std::uint32_t begin, std::uint32_t end) {
    for (std::uint32_t e = begin; e < end; ++e) {
      *entry = {other_[e], numbers.values[e]};
      entry += numbers.values[e] != 0;
    }
    return static_cast<std::uint32_t>(entry - numbers.entries.data());
  };
  for (std::size_t k = 0; k < pivots_.size(); ++k) {
    numbers.below_end[k] = list(pivots_[k].below_begin, pivots_[k].below_end);
  }
  for (std::size_t k = pivots_.size(); k-- > 0;) {
    numbers.right_end[k] = list(pivots_[k].right_begin, pivots_[k].right_end);
  }
}

void CompiledLu::solve(double* b) const {
  const Numbers& numbers = *numbers_;
  const Entry* const entries = numbers.entries.data();
  const Entry* entry = entries;
  for (std::size_t k = 0; k < pivots_.size(); ++k) {
    const double value = b[pivots_[k].unknown];
    for (const Entry* end = entries + numbers.below_end[k]; entry != end; ++entry) {
      b[entry->other] -= value * entry->value;
    }
  }
  for (std::size_t k = pivots_.size(); k-- > 0;) {
    double value = b[pivots_[k].unknown];
    for (const Entry* end = entries + numbers.right_end[k]; entry != end; ++entry) {
      value -= entry->value * b[entry->other];
    }
    b[pivots_[k].unknown] = value * numbers.values[k];
  }
}

}  // namespace overwinter
