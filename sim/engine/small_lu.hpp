// Dense linear systems of a few dozen unknowns: Gaussian elimination with partial pivoting, column by column, without
// the blocking that pays only for large matrices. Golub & Van Loan 2013, Matrix Computations, 4th ed., algorithm 3.4.1.
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
      for (std::size_t i = k + 1; i < n; ++i) sum += column[i] *= scale;
      if (!std::isfinite(sum)) return false;
      for (std::size_t j = k + 1; j < n; ++j) {
        double* other = a_.data() + j * n;
        const double factor = other[k];
        if (factor == 0) continue;
        for (std::size_t i = k + 1; i < n; ++i) other[i] -= factor * column[i];
      }
    }
    return true;
  }

  /// Solves in place.
  void solve(double* b) const {
    for (std::size_t k = 0; k < n_; ++k) std::swap(b[k], b[row_[k]]);
    for (std::size_t k = 0; k < n_; ++k) {
      const double value = b[k];
      if (value == 0) continue;
      const double* column = a_.data() + k * n_;
      for (std::size_t i = k + 1; i < n_; ++i) b[i] -= value * column[i];
    }
    for (std::size_t k = n_; k-- > 0;) {
      const double* column = a_.data() + k * n_;
      const double value = b[k] /= column[k];
      for (std::size_t i = 0; i < k; ++i) b[i] -= value * column[i];
    }
  }

  /// Sign of the determinant.
  int sign() const { return sign_; }

 private:
  std::size_t n_ = 0;
  std::vector<double> a_;
  std::vector<std::size_t> row_;
  int sign_ = 1;
};

}  // namespace overwinter
