// Integrates states and flows over one segment, on which drive and memory are constant, in controlled steps with dense
// output. What is integrated stands behind an interface, so that a stepper knows nothing of networks.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace overwinter {

enum class Stepping {
  phases,     ///< exponential, third order: what relaxes on its own is solved exactly
  reference,  ///< dopri5 of Odeint
  stiff,      ///< Rosenbrock's method of Odeint, for transients
};

std::string name_of(Stepping);

/// Thrown out of a right-hand side when the network's branch is not there at a trial point.
struct BranchLost {};

/// The system that is stepped through. States come first in its vectors, the integrals of the flows behind them.
class StepSystem {
 public:
  virtual ~StepSystem() = default;
  /// The rates of the states and the flows at x. May throw BranchLost.
  virtual void slopes(const std::vector<double>& x, std::vector<double>& dxdt) = 0;
  /// The rates of the fast states (StepperSettings::fast) at least; the flows' places are left alone.
  virtual void rates(const std::vector<double>& x, std::vector<double>& dxdt) { slopes(x, dxdt); }
  /// Derivatives of some fast states' rates by those states at x, row by row: the network's answer is in them. x is the
  /// one of the last rates() and is used for scratch. May throw BranchLost.
  virtual void linearise(std::vector<double>& x, const std::vector<std::size_t>& states, double* jacobian);
  // Of the x that slopes() was last called with:
  /// Linear decay rate of each state, 1/s: Model::decay.
  virtual void decay(double* rate) const = 0;
  /// J, in closed form.
  virtual double stored_energy() const = 0;
  /// Mean throughput of the stores up to the segment's begin, W.
  virtual double usual_power() const = 0;
  /// Whether an event that has not happened yet is due there.
  virtual bool due() const = 0;
};

struct StepperSettings {
  std::vector<double> tolerances;  ///< local error per step of each state; flows are not looked at
  std::vector<double> scales;      ///< of each state
  std::vector<double> reach;       ///< how far a first step may lead each state
  std::vector<std::size_t> fast;   ///< states that may settle in microseconds: State::fast
  double straight_below = 0;       ///< s, length of steps that a straight line is tried for first; 0 for none
  double longest_step = 0;         ///< s
  double energy_tolerance = 0;     ///< what a step's flows may miss of the stored energy, over its throughput
  std::vector<std::size_t> stored, throughput;  ///< places of those flows' integrals in the vectors
  std::size_t size = 0;                         ///< of the vectors
};

class Stepper {
 public:
  virtual ~Stepper() = default;
  /// Begins at x and t (s) with a first step of h (s). Nothing is known of the system any more.
  virtual void initialize(const std::vector<double>& x, double t, double h) = 0;
  /// The next step from where the last one ended is h long; the system is still the same.
  virtual void resize(double h) = 0;
  /// One accepted step, at most as long as asked for: its begin and end. After BranchLost the stepper must be
  /// initialised.
  virtual std::pair<double, double> do_step(StepSystem&) = 0;
  /// Dense output of the last step.
  virtual void calc_state(double t, std::vector<double>& x) const = 0;
  virtual const std::vector<double>& current_state() const = 0;
  /// The length that the next step should have.
  virtual double current_time_step() const = 0;
  /// Whether the last step had to measure a decay that no model gives in closed form.
  virtual bool measured() const { return false; }
};

std::unique_ptr<Stepper> make_reference_stepper(const StepperSettings&);
std::unique_ptr<Stepper> make_phase_stepper(const StepperSettings&);
std::unique_ptr<Stepper> make_stiff_stepper(const StepperSettings&);

}  // namespace overwinter
