// Gaussian elimination on a fixed pattern of zeros: the order of the pivots and every multiplication are listed once,
// and each factorisation walks through the list. Pivots stay on the diagonal, rows and columns are permuted alike, so
// the permutation's sign is +1 and the determinant's is that of the product of the pivots.
//
// Order: first the unknowns that are not late, then the late ones; among those in turn the pivot with the fewest
// products, (other entries of its row) x (other entries of its column) (Markowitz 1957, Management Science 3(3),
// 255-269), the first of equals. On a network's symmetric pattern that is minimum degree, which begins with the leaves.
//
// A pivot is checked when its turn comes. Threshold pivoting (Duff, Erisman & Reid 2017, Direct Methods for Sparse
// Matrices, 2nd ed., 4.4 and 5.2.1) asks that it be at least u times the largest entry of its column among what is not
// eliminated yet, or as well of its row: either bounds what a product adds, |a_ik a_kj / a_kk| <= max |a| / u, so that
// no entry grows by more than 1 + 1/u a step.
//   (1) |a_kk| >= u max_j |a_kj|                          of early pivots: all unknowns are volts, but the equations
//       inside parts have units of their own, and rows compare whatever their scale
//   (2) |a_kk| >= u min(max_j |a_kj|, max_i |a_ik|)       of late ones, whose equations are all in amperes: a net that
//       steers a current source (a charger at constant voltage) has a long row and passes by its column
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <utility>
#include <vector>

#include "sim/engine/keepable.hpp"

namespace overwinter {

class CompiledLu {
 public:
  using Place = std::pair<std::uint32_t, std::uint32_t>;  ///< row, column

  /// For n unknowns, the first `late` of them late (nets). The pattern holds the places off the diagonal that can be
  /// other than zero, in any order, also repeated. Throws std::out_of_range for a place outside the matrix.
  CompiledLu(std::size_t n, std::size_t late, const std::vector<Place>& pattern);

  /// Where a matrix keeps its entries, those that only elimination fills (to be zero) included.
  const std::vector<Place>& places() const { return places_; }
  /// Index in places() of an entry of the pattern or the diagonal. Throws std::out_of_range for any other.
  std::uint32_t index(std::size_t row, std::size_t column) const;

  /// Takes the numbers at places(). False where a pivot is zero, fails its check or something is not finite; then there
  /// are no factors.
  bool factor(const double* matrix);
  /// Solves in place.
  void solve(double* b) const;
  /// Sign of the determinant.
  int sign() const { return numbers_->sign; }

  /// A factor's entry other than zero: in L with its row, in U with its column.
  struct Entry {
    std::uint32_t other;
    double value;
  };
  /// Of a factorisation.
  struct Numbers {
    std::vector<double> values;                       ///< at places_: inverse pivots, L, U
    std::vector<Entry> entries;                       ///< in the order in which solve() needs them
    std::vector<std::uint32_t> below_end, right_end;  ///< of each pivot, in entries
    int sign = 1;
  };
  /// The last factorisation; a later one leaves it alone.
  std::shared_ptr<const Numbers> keep() const { return numbers_.keep(); }
  /// Goes on with an earlier one.
  void recall(std::shared_ptr<const Numbers> kept) { numbers_.recall(std::move(kept)); }

 private:
  /// a[target] -= a[below] a[right]
  struct Product {
    std::uint32_t target, below, right;
  };
  /// Its stretches in the lists.
  struct Pivot {
    std::uint32_t unknown;
    std::uint32_t below_begin, below_end;  ///< places_ below it in its column
    std::uint32_t right_begin, right_end;  ///< places_ right of it in its row
    std::uint32_t product_end;             ///< in products_
  };
  void list_entries(Numbers&) const;

  std::size_t early_;  ///< pivots checked by (1)
  std::vector<Pivot> pivots_;
  std::vector<Place> places_;         ///< pivots in order, then L column by column, then U row by row from the last
  std::vector<std::uint32_t> other_;  ///< of a place in L its row, in U its column
  std::vector<Product> products_;
  Keepable<Numbers> numbers_;
};

}  // namespace overwinter
