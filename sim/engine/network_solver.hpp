// Finds net voltages and internal unknowns that satisfy Kirchhoff's current law at one instant.
#pragma once

#include <cstddef>
#include <memory>
#include <vector>

#include "sim/engine/evaluator.hpp"

namespace overwinter {

struct SolveOutcome {
  bool converged = false;
  bool left_branch = false;  ///< the solution near the start vanished; another one was reached
  int sign = 0;              ///< sign of the Jacobian's determinant at the solution
};

struct SolveCounts {
  std::size_t solves = 0, iterations = 0, fallbacks = 0;
  std::size_t chords = 0;  ///< steps with the factors of an earlier solve
};

/// The interface behind which the network is solved.
class NetworkSolver {
 public:
  virtual ~NetworkSolver() = default;
  /// Solves in place from the start vector `network`, which names the branch to follow. `branch_sign` is the
  /// determinant's sign on that branch, 0 when unknown. The evaluator's inputs must be set; its solution is set after.
  virtual SolveOutcome solve(Evaluator&, std::vector<double>& network, int branch_sign) = 0;
  virtual const SolveCounts& counts() const = 0;
};

/// Newton's method on the full matrix with partial pivoting.
std::unique_ptr<NetworkSolver> make_dense_solver();

}  // namespace overwinter
