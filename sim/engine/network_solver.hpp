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
  /// From the solution at the states `from` to that at `to`, on the same branch: not converged where it is not found
  /// within `trusted` (V) of what it is to first order. Sets the evaluator's inputs.
  virtual SolveOutcome track(Evaluator&, std::vector<double>& network, const Context& inputs,
                             const std::vector<double>& from, const std::vector<double>& to, double trusted) = 0;
  /// Makes the factors of the Jacobian at a solution. False where it is singular.
  virtual bool factor_at(Evaluator&, const std::vector<double>& network) = 0;
  /// How a network that was solved answers currents f (A) into its nets, with those factors: J^-1 f in place, V.
  virtual void respond(double* f) const = 0;
  /// What solves leave behind for later ones: the factors of a Jacobian. Null for none.
  virtual std::shared_ptr<const SolverMemory> keep() = 0;
  /// Lets go of what earlier solves left behind and goes on with what was kept then, or nothing, so that the next solve
  /// depends on its arguments and on that alone.
  virtual void recall(const std::shared_ptr<const SolverMemory>&) = 0;
  virtual const SolveCounts& counts() const = 0;
};

/// How far a solution may be off, V: what rounding leaves.
inline constexpr double finest_rest = 1e-15;

/// Newton's method with the one elimination and with the other (jacobian_factors.hpp). `rest`: how far a solution may
/// be off by estimate, V.
std::unique_ptr<NetworkSolver> make_dense_solver(const Diagram&, double rest = finest_rest);
std::unique_ptr<NetworkSolver> make_compiled_solver(const Diagram&, double rest = finest_rest);

}  // namespace overwinter
