// The linear algebra behind Newton's method: how the Jacobian is stored, factored and solved with.
#pragma once

#include <cstddef>
#include <memory>

#include "sim/engine/evaluator.hpp"

namespace overwinter {

/// The numbers of a factorisation.
struct KeptFactors {
  virtual ~KeptFactors() = default;
};

class JacobianFactors {
 public:
  virtual ~JacobianFactors() = default;
  virtual const JacobianPlaces& places() const = 0;
  /// Takes a Jacobian stored at places(). False if it is singular or not finite.
  virtual bool factor(const double* jacobian) = 0;
  /// Solves in place with the factors.
  virtual void solve(double* b) const = 0;
  /// Sign of the determinant.
  virtual int sign() const = 0;
  /// The last factorisation; a later one leaves it alone.
  virtual std::shared_ptr<const KeptFactors> keep() const = 0;
  /// Goes on with an earlier one of this kind and wiring.
  virtual void recall(const std::shared_ptr<const KeptFactors>&) = 0;
  /// How often a pivot of a fixed order failed, so that pivots were searched for.
  virtual std::size_t searched() const = 0;
};

/// The full matrix with partial pivoting (small_lu.hpp).
std::unique_ptr<JacobianFactors> make_dense_factors(const Diagram&);
/// The entries that the wiring can make non-zero, in a fixed order of elimination (compiled_lu.hpp): a part's own
/// unknowns first, which fills nothing, for whatever they touch touches each other in that part; then the nets. Where a
/// pivot fails, the full matrix.
std::unique_ptr<JacobianFactors> make_compiled_factors(const Diagram&);

}  // namespace overwinter
