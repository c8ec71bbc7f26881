// Finds net voltages and internal unknowns that satisfy Kirchhoff's current law at one instant.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "sim/engine/context.hpp"
#include "sim/engine/evaluator.hpp"

namespace overwinter {

/// How Newton's linear systems are solved.
enum class Elimination {
  compiled,  ///< a list of operations made from the wiring once
  dense,     ///< the full matrix with partial pivoting, the other's check
};

std::string name_of(Elimination);

struct SolveOutcome {
  bool converged = false;
  bool left_branch = false;  ///< the solution near the start vanished; another one was reached
  int sign = 0;              ///< sign of the Jacobian's determinant at the solution
};

struct SolveCounts {
  std::size_t solves = 0, iterations = 0, fallbacks = 0;
  std::size_t chords = 0;    ///< steps with the factors of an earlier solve
  std::size_t searched = 0;  ///< factorisations in which a pivot of the compiled order failed: JacobianFactors
};

/// The interface behind which the network is solved.
class NetworkSolver {
 public:
  virtual ~NetworkSolver() = default;
  /// Solves in place from the start vector `network`, which names the branch to follow. `branch_sign` is the
  /// determinant's sign on that branch, 0 when unknown. The evaluator's inputs must be set; its solution is set after.
  virtual SolveOutcome solve(Evaluator&, std::vector<double>& network, int branch_sign) = 0;
  /// The same on that branch only: not converged where it is not found near the start.
  virtual SolveOutcome stay(Evaluator&, std::vector<double>& network, int branch_sign) = 0;
  /// Moves a solved network along with the states, to first order: dz = -J^-1 (df/dx) dx with the factors of the last
  /// solve and df/dx dx from a small difference, which stays on one side of the laws' corners. Does nothing where there
  /// are no factors. `from` is the state of the solution, `to` that of the next solve.
  virtual void follow(Evaluator&, std::vector<double>& network, const Context& inputs, const std::vector<double>& from,
                      const std::vector<double>& to) = 0;
  /// Lets go of what earlier solves left behind, so that the next one depends on its arguments alone.
  virtual void forget() = 0;
  virtual const SolveCounts& counts() const = 0;
};

/// Newton's method with the one elimination and with the other (jacobian_factors.hpp).
std::unique_ptr<NetworkSolver> make_dense_solver(const Diagram&);
std::unique_ptr<NetworkSolver> make_compiled_solver(const Diagram&);

}  // namespace overwinter
