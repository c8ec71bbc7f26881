// Newton's method with the natural monotonicity test, and pseudo-transient continuation behind it.
//
//   (1) J dz = -f(z),  z+ = z + lambda dz
//   (2) accept lambda when |J^-1 f(z+)| <= (1 - lambda/4) |J^-1 f(z)|      affine-invariant damping:
//       Deuflhard 2011, Newton Methods for Nonlinear Problems, ch. 3 (all unknowns are volts, so the norm is in volts)
//   (3) mu N (z+ - z) + f(z+) = 0, N = 1 on net rows, mu -> 0              implicit Euler steps of a system in which
//       every net has a capacitance: Kelley & Keyes 1998, SIAM J. Numer. Anal. 35(2), 508-523; ends in a stable
//       operating point
//   (4) before all that, the factors of the last solve are tried again (chord iteration). While a step shortens the
//       next one to less than half, J differs from those factors by less than that share in the direction of the error
//       (Deuflhard 2011, 2.1.2), so the point is on the same branch and has the same sign. Where a step is more than a
//       twentieth of the one before it, the factors are made anew on the way
// Newton's result is refused when the determinant's sign differs from the branch's: that point is not stable.
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "sim/engine/jacobian_factors.hpp"
#include "sim/engine/network_solver.hpp"

namespace overwinter {

namespace {

constexpr double step_tolerance = 1e-11;  // V; the last correction below it is still applied
constexpr int newton_limit = 60;
constexpr int transient_limit = 400;
constexpr double smallest_damping = 1.0 / (1 << 20);
constexpr double least_patience = 1.0 / (1 << 6);  // damping at which a branch counts as gone

class NewtonSolver final : public NetworkSolver {
 public:
  NewtonSolver(const Diagram& diagram, std::unique_ptr<JacobianFactors> factors, double rest)
      : rest_(rest), factors_(std::move(factors)), jacobian_(factors_->places().size) {
    const auto size = static_cast<Eigen::Index>(diagram.unknowns());
    f_.resize(size);
    trial_f_.resize(size);
  }

  SolveOutcome solve(Evaluator& system, std::vector<double>& network, int branch_sign) override {
    SolveOutcome outcome = near(system, network, branch_sign, smallest_damping);
    if (outcome.converged) return outcome;
    ++counts_.fallbacks;
    Eigen::Map<Eigen::VectorXd> solution(network.data(), static_cast<Eigen::Index>(network.size()));
    solution = start_;
    outcome.converged = transient(system, solution, outcome.sign);
    outcome.left_branch = true;
    if (outcome.converged) factored_sign_ = outcome.sign;
    system.set_solution(network.data());
    return outcome;
  }

  SolveOutcome stay(Evaluator& system, std::vector<double>& network, int branch_sign) override {
    slow_ = false;
    SolveOutcome outcome = near(system, network, branch_sign, least_patience);
    if (outcome.converged && slow_) {
      renew(system, Eigen::Map<Eigen::VectorXd>(network.data(), static_cast<Eigen::Index>(network.size())));
      outcome.converged = factored_sign_ == outcome.sign;
    }
    return outcome;
  }

  SolveOutcome track(Evaluator& system, std::vector<double>& network, const Context& inputs,
                     const std::vector<double>& from, const std::vector<double>& to, double trusted) override {
    Eigen::Map<Eigen::VectorXd> z(network.data(), static_cast<Eigen::Index>(network.size()));
    system.set_inputs(to.data(), inputs.memory.data(), inputs.drive.data());
    start_ = z;
    if (factored_sign_ != 0 && factored_sign_ == inputs.branch_sign && !bends_) {
      if (chord(system, z, follow_reach) && within(z, first_, trusted)) {
        ++counts_.solves;
        if (slow_) renew(system, z);
        system.set_solution(network.data());
        return {factored_sign_ == inputs.branch_sign, false, factored_sign_};
      }
      z = start_;
      bends_ = true;
    }
    follow(system, network, inputs, from, to);
    system.set_inputs(to.data(), inputs.memory.data(), inputs.drive.data());
    predicted_ = z;
    SolveOutcome outcome = near(system, network, inputs.branch_sign, least_patience);
    if (!within(z, predicted_, trusted)) outcome.converged = false;
    return outcome;
  }

  bool factor_at(Evaluator& system, const std::vector<double>& network) override {
    return renew(system, Eigen::Map<const Eigen::VectorXd>(network.data(), static_cast<Eigen::Index>(network.size())));
  }
  void respond(double* f) const override { factors_->solve(f); }

  std::shared_ptr<const SolverMemory> keep() override {
    if (factored_sign_ == 0) return nullptr;
    const auto factors = factors_->keep();
    if (kept_ && kept_->factors == factors) return kept_;
    auto memory = std::make_shared<Memory>();
    memory->factors = factors;
    memory->sign = factored_sign_;
    return kept_ = std::move(memory);
  }

  void recall(const std::shared_ptr<const SolverMemory>& memory) override {
    kept_ = std::static_pointer_cast<const Memory>(memory);
    bends_ = false;
    factored_sign_ = kept_ ? kept_->sign : 0;
    if (kept_) factors_->recall(kept_->factors);
  }

  const SolveCounts& counts() const override { return counts_; }

 private:
  struct Memory final : SolverMemory {
    std::shared_ptr<const KeptFactors> factors;
    int sign = 0;
  };

  /// Whether z, which came from start_, is where it was expected, to `trusted` and a tenth of the way.
  bool within(const Eigen::Map<Eigen::VectorXd>& z, const Eigen::VectorXd& expected, double trusted) const {
    return (z - expected).lpNorm<Eigen::Infinity>() <= trusted + (expected - start_).lpNorm<Eigen::Infinity>() / 10;
  }

  /// Moves a solved network along with the states, to first order: dz = -J^-1 (df/dx) dx with df/dx dx from a small
  /// difference, which stays on one side of the laws' corners. Does nothing where J is singular.
  void follow(Evaluator& system, std::vector<double>& network, const Context& inputs, const std::vector<double>& from,
              const std::vector<double>& to) {
    Eigen::Map<Eigen::VectorXd> z(network.data(), static_cast<Eigen::Index>(network.size()));
    system.set_inputs(from.data(), inputs.memory.data(), inputs.drive.data());
    if (factored_sign_ == 0) {
      if (!renew(system, z)) return;
    } else {
      system.residual(z.data(), f_.data());
    }
    near_.resize(from.size());
    for (std::size_t i = 0; i < system.diagram().states(); ++i) {
      near_[i] = from[i] + follow_difference * (to[i] - from[i]);
    }
    trial_f_ = f_;
    system.set_inputs(near_.data(), inputs.memory.data(), inputs.drive.data());
    system.residual(z.data(), f_.data());
    f_ -= trial_f_;
    factors_->solve(f_.data());
    f_ /= follow_difference;
    if (f_.lpNorm<Eigen::Infinity>() < follow_reach) z -= f_;
  }

  /// Factors of the Jacobian at z; f_ is f(z) then.
  template <class Vector>
  bool renew(Evaluator& system, const Vector& z) {
    system.linearise(z.data(), f_.data(), factors_->places(), jacobian_.data());
    factored_sign_ = factor() ? factors_->sign() : 0;
    return factored_sign_ != 0;
  }

  bool factor() {
    const bool regular = factors_->factor(jacobian_.data());
    counts_.searched = factors_->searched();
    return regular;
  }

  /// (4), then (1) from the start with damping down to `least`, on the branch with that sign.
  SolveOutcome near(Evaluator& system, std::vector<double>& network, int branch_sign, double least) {
    ++counts_.solves;
    Eigen::Map<Eigen::VectorXd> solution(network.data(), static_cast<Eigen::Index>(network.size()));
    start_ = solution;
    SolveOutcome outcome;
    if (factored_sign_ != 0 && factored_sign_ == branch_sign && chord(system, solution, chord_reach)) {
      outcome.converged = true;
      outcome.sign = factored_sign_;
    } else {
      solution = start_;
      factored_sign_ = 0;
      outcome.converged =
          newton(system, solution, 0.0, least, outcome.sign) && (branch_sign == 0 || outcome.sign == branch_sign);
      if (outcome.converged) factored_sign_ = outcome.sign;
    }
    system.set_solution(network.data());
    return outcome;
  }

  /// (4) from z with the factors in factors_; false leaves z anywhere. first_ is where the first step led.
  bool chord(Evaluator& system, Eigen::Map<Eigen::VectorXd>& z, double reach) {
    double former = std::numeric_limits<double>::infinity();
    bool slow = false;
    for (int i = 0; i < chord_limit; ++i) {
      if (slow) {
        if (!renew(system, z)) return false;
      } else {
        system.residual(z.data(), f_.data());
      }
      factors_->solve(f_.data());
      const double length = f_.lpNorm<Eigen::Infinity>();
      if (!(length < reach) || length > chord_contraction * former) return former <= chord_floor;
      z -= f_;
      if (i == 0) first_ = z;
      ++counts_.chords;
      slow_ = i > 0 && length > chord_floor && length > slow_contraction * former;
      if (i > 0 ? length * length <= rest_ * former : length <= 100 * rest_) return true;
      slow = slow_;
      former = length;
    }
    return false;
  }

  /// Solves f(z) + mu N (z - anchor) = 0 from z, the anchor being anchor_.
  bool newton(Evaluator& system, Eigen::Map<Eigen::VectorXd>& z, double mu, double least, int& sign) {
    const auto nets = static_cast<Eigen::Index>(system.diagram().nets().size());
    for (int i = 0; i < newton_limit; ++i) {
      ++counts_.iterations;
      system.linearise(z.data(), f_.data(), factors_->places(), jacobian_.data());
      if (mu > 0) {
        f_.head(nets) += mu * (z.head(nets) - anchor_.head(nets));
        for (Eigen::Index k = 0; k < nets; ++k)
          jacobian_[factors_->places().diagonal[static_cast<std::size_t>(k)]] += mu;
      }
      if (!factor()) return false;
      step_ = -f_;
      factors_->solve(step_.data());  // (1)
      const double length = step_.lpNorm<Eigen::Infinity>();
      if (!std::isfinite(length)) return false;
      double damping = 1;
      for (;; damping /= 2) {
        if (damping < least) return false;
        trial_ = z + damping * step_;
        system.residual(trial_.data(), trial_f_.data());
        if (mu > 0) trial_f_.head(nets) += mu * (trial_.head(nets) - anchor_.head(nets));
        correction_ = -trial_f_;
        factors_->solve(correction_.data());
        const double next = correction_.lpNorm<Eigen::Infinity>();
        if (next <= step_tolerance && damping == 1) {
          z = trial_ + correction_;
          sign = factors_->sign();
          return true;
        }
        if (next <= (1 - damping / 4) * length) break;  // (2)
      }
      z = trial_;
    }
    return false;
  }

  /// (3), to the end.
  bool transient(Evaluator& system, Eigen::Map<Eigen::VectorXd>& z, int& sign) {
    double mu = first_conductance;
    for (int i = 0; i < transient_limit; ++i) {
      anchor_ = z;
      if (!newton(system, z, mu, smallest_damping, sign)) {
        z = anchor_;
        mu *= 16;
        continue;
      }
      const bool still = (z - anchor_).lpNorm<Eigen::Infinity>() < at_rest;
      anchor_ = z;
      if (still && newton(system, z, 0.0, smallest_damping, sign) &&
          (z - anchor_).lpNorm<Eigen::Infinity>() < near_rest)
        return true;
      z = anchor_;
      mu /= 4;
    }
    return false;
  }

  static constexpr double follow_difference = 1e-7;  // of the change of state
  static constexpr double follow_reach = 10.0;       // V
  static constexpr int chord_limit = 14;
  static constexpr double chord_reach = 0.1;                 // V, a longer first step asks for a fresh Jacobian
  static constexpr double slow_contraction = 0.05;           // a fresh Jacobian pays
  static constexpr double chord_contraction = 0.5;           // of one step to the next
  static constexpr double chord_floor = 1e-11;               // V, steps this short may be rounding and need not shrink
  static constexpr double first_conductance = 1.0;           // S
  static constexpr double at_rest = 1e-3, near_rest = 0.05;  // V

  Eigen::VectorXd f_, trial_f_, step_, trial_, correction_, start_, anchor_, first_, predicted_;
  bool slow_ = false;   ///< the last chord iteration ended so slowly that a fresh Jacobian pays
  bool bends_ = false;  ///< since the last recall a straight line did not lead to the next solution
  const double rest_;   ///< V, estimated next step; then the last one has been applied
  std::unique_ptr<JacobianFactors> factors_;
  std::vector<double> jacobian_;
  int factored_sign_ = 0;  ///< of the matrix in factors_; 0 if it belongs to no solution
  std::vector<double> near_;
  std::shared_ptr<const Memory> kept_;  ///< the last that was kept or recalled
  SolveCounts counts_;
};

}  // namespace

std::string name_of(Elimination elimination) { return elimination == Elimination::dense ? "dense" : "compiled"; }

std::unique_ptr<NetworkSolver> make_dense_solver(const Diagram& diagram, double rest) {
  return std::make_unique<NewtonSolver>(diagram, make_dense_factors(diagram), rest);
}

std::unique_ptr<NetworkSolver> make_compiled_solver(const Diagram& diagram, double rest) {
  return std::make_unique<NewtonSolver>(diagram, make_compiled_factors(diagram), rest);
}

}  // namespace overwinter
