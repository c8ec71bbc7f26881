// Linear systems of a few dozen unknowns: Gaussian elimination with partial pivoting, column by column, without the
// blocking that pays only for large matrices (Golub & Van Loan 2013, Matrix Computations, 4th ed., algorithm 3.4.1).
// Zeros are passed over: a net touches few others, so that most entries of a network's matrix and its factors are zero.
#pragma once

#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

namespace overwinter {

class SmallLu {
 public:
  /// Takes a column-major square matrix of n columns. False if it is singular or not finite.
  bool factor(const double* matrix, std::size_t n) {
    n_ = n;
    a_.assign(matrix, matrix + n * n);
    row_.resize(n);
    filled_.resize(n);
    sign_ = 1;
    for (std::size_t k = 0; k < n; ++k) {
      double* column = a_.data() + k * n;
      std::size_t pivot = k;
      for (std::size_t i = k + 1; i < n; ++i) {
        if (std::abs(column[i]) > std::abs(column[pivot])) pivot = i;
      }
      row_[k] = pivot;
      const double value = column[pivot];
      if (!(std::abs(value) > 0) || !std::isfinite(value)) return false;
      if (pivot != k) {
        sign_ = -sign_;
        for (std::size_t j = 0; j < n; ++j) std::swap(a_[j * n + k], a_[j * n + pivot]);
      }
      if (value < 0) sign_ = -sign_;
      const double scale = 1 / value;
      double sum = 0;
      std::size_t filled = 0;
      for (std::size_t i = k + 1; i < n; ++i) {
        if (column[i] == 0) continue;
        sum += column[i] *= scale;
        filled_[filled++] = i;
      }
      if (!std::isfinite(sum)) return false;
      for (std::size_t j = k + 1; j < n; ++j) {
        double* other = a_.data() + j * n;
        const double factor = other[k];
        if (factor == 0) continue;
        for (std::size_t f = 0; f < filled; ++f) other[filled_[f]] -= factor * column[filled_[f]];
      }
    }
    return list_entries();
  }

  /// Solves in place.
  void solve(double* b) const {
    for (std::size_t k = 0; k < n_; ++k) std::swap(b[k], b[row_[k]]);
    const Entry* entry = entries_.data();
    for (std::size_t k = 0; k < n_; ++k) {
      const double value = b[k];
      for (const Entry* end = entries_.data() + below_end_[k]; entry != end; ++entry) {
        b[entry->row] -= value * entry->value;
      }
    }
    for (std::size_t k = n_; k-- > 0;) {
      const double value = b[k] /= a_[k * n_ + k];
      for (const Entry* end = entries_.data() + above_end_[k]; entry != end; ++entry) {
        b[entry->row] -= value * entry->value;
      }
    }
  }

  /// Sign of the determinant.
  int sign() const { return sign_; }

 private:
  struct Entry {
    std::size_t row;
    double value;
  };

  /// The factors without their zeros, in the order in which solve() needs them. False if one is not finite.
  bool list_entries() {
    entries_.resize(n_ * n_);
    below_end_.resize(n_);
    above_end_.resize(n_);
    std::size_t count = 0;
    double sum = 0;
    const auto list = [&](std::size_t column, std::size_t from, std::size_t to) {
      for (std::size_t i = from; i < to; ++i) {
        const double value = a_[column * n_ + i];
        if (value == 0) continue;
        sum += value;
        entries_[count++] = {i, value};
      }
      return count;
    };
    for (std::size_t k = 0; k < n_; ++k) below_end_[k] = list(k, k + 1, n_);
    for (std::size_t k = n_; k-- > 0;) above_end_[k] = list(k, 0, k);
    return std::isfinite(sum);
  }

  std::size_t n_ = 0;
  std::vector<double> a_;
  std::vector<std::size_t> row_, filled_, below_end_, above_end_;
  std::vector<Entry> entries_;
  int sign_ = 1;
};

}  // namespace overwinter
