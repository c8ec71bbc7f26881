// Moves a Context through time. The only thing that changes one.
//
// The step, in words. x- is the state before an event round, x* the state at a located event, x+ the state after it.
//
//   advance(context, until):
//     while context.now < until
//       1  stop := the earliest of: end of the weather interval, begin or end of a fault, the next alarm, until.
//       Calendar alarms (a clock's
//          wake-up, hours apart) are kept by the SystemC kernel, which mirrors the context's; the ends of a wake's
//          phases are read from the context itself
//       2  integrate from context.now towards stop with a fixed drive and memory:
//            step (t0, t*]: one controlled step of the stepper (stepper.hpp), never beyond stop
//            a guard counts on the half-open step: false at t0 by construction, looked at at t*; the phase stepper
//            looks inside as well (not on a straight line), and where one is >= 0 there but not at t*, the step is
//            shortened until it is at its end
//            if an armed guard is >= 0 at t*: search the step's dense output for the first tick at which one of those
//            is; x* is the dense output there, and the rest of the step is thrown away
//            a disarmed guard that is < 0 at t* is armed again; one without a reset, which changes nothing that could
//            lead it away from its threshold, not before a second has passed
//            samples due inside the step are read from the dense output
//            after 100 steps in a row shorter than 0.5 s the integration is held up: x* is the last step's end
//       3  context := x* at that tick; if a fault begins or ends there (fault_plan.hpp): the network is solved once
//       more
//          and what begins or ends is told, with round 0; then the parts go on as the models that they have now
//          (Model::take_over). If it is the interval's end, take the next interval's weather
//       4  event rounds at that tick, numbered from 0:
//            solve the network once at x-; every armed guard >= 0 and every alarm <= now is due, and in round 0 after a
//            held-up integration every event for that
//            each due event, in part order, is recorded and disarmed; its reset reads x- and writes its own part of x+
//            an alarm that an earlier reset of this round has taken back does not happen
//            more than 60000 events within a minute are chatter, and an error that names the last ones: chatter.hpp
//            until no event is due; more than 100 rounds is a contradiction and an error that names the cycle
//          the watcher is told of them all once the rounds are over
//       5  if an event of this tick was a load step: with each part that has a stress in its stressed memory, solve the
//          network once more and report that part's margins; nothing of it stays. Where one is thin, the tick and what
//          follows may be simulated anew with the fast stores integrated: microscope.hpp. If something fails there,
//          context := the end of that, and what is told is what happened there
//       6  a sample due at that tick is taken now, after its events
//     7  if an event of this tick was a failure (a cut or a brown-out) and there were many of late, more of them are
//        stepped over, see sim/engine/hiccup.hpp
//     Once before the first step: initial states, or others that the caller arranges, then rounds that are not recorded
//     ("settling").
//
// If the network's branch vanishes inside a step, the step is quartered down to a microsecond; then the branch that the
// network falls to is taken, and a "collapse" is recorded. The phase stepper's steps can reach so far beyond a fold
// that Newton's method lands on the other branch unnoticed: a solution far from its prediction counts as a vanished
// branch too. Blind spots: a guard that rises and falls again between the points that are looked at (the middle of a
// step of the phase stepper, in a corrected one three points, on a straight line of 20 s none, and each step's end) is
// missed, and so is one that touches zero without passing it, or one that has fallen again at the step's end while
// another is due there. On a segment the drive is constant, so that what moves are relaxations, and the step
// error control keeps steps short where they move currents. Integrals of flows ride along in the state vector with the
// method's own nodes and weights. They do not steer the reference stepper; the phase stepper compares those of the
// stored energy with the stores' closed form.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include "sim/engine/context.hpp"
#include "sim/engine/diagram.hpp"
#include "sim/engine/evaluator.hpp"
#include "sim/engine/fault_plan.hpp"
#include "sim/engine/hiccup.hpp"
#include "sim/engine/network_solver.hpp"
#include "sim/engine/stepper.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

struct SimulatorOptions {
  /// The fast stores are integrated too (View::transient); asks for a stiff method.
  bool transient = false;
  /// Looks into instants whose worst case is thin (sim/engine/microscope.hpp).
  bool look_closer = false;
  /// The method of integration.
  Stepping stepping = Stepping::phases;
  /// Makes the stepper in place of what `stepping` names. For measurements.
  std::function<std::unique_ptr<Stepper>(const StepperSettings&)> make_stepper = {};
  /// The linear algebra of the network solver.
  Elimination elimination = Elimination::compiled;
  /// Makes the solver in place of what `elimination` names; told how far a solution may be off, V. For measurements.
  std::function<std::unique_ptr<NetworkSolver>(const Diagram&, double rest)> make_solver = {};
  /// Local error per step relative to each state's scale in its model's table. Default 1e-7: measured against an
  /// independent integrator (tests/acceptance/oracle_test.cpp).
  double tolerance = 1e-7;
  /// Longest step, s. Keeps guards observed.
  double longest_step = 900;
  /// Distance of regular samples; 0 for none.
  Tick sample_every = 0;
  /// Whether failed starts are stepped over where there are many; otherwise every one is simulated.
  bool step_over_hiccups = true;
  /// Called before each step of the integration, in what is simulated unseen and in transients too. What it throws ends
  /// the work; a context that is advanced then stands at the end of the last step, its network not solved.
  std::function<void()> look = {};
};

/// The simulation could not be completed: where, when and why. Exit code 3.
class SimulationError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Something that happened: an event of a part, or a collapse of the network (neither part nor event).
struct Happening {
  Tick time = 0;
  int round = 0;
  const DiagramPart* part = nullptr;
  const Event* event = nullptr;
  std::string what = {};  ///< of a collapse: the net that fell

  const std::string& part_name() const;
  const std::string& event_name() const;
};

/// Watches a run. The evaluator holds the solved system at the given time.
class RunWatcher {
 public:
  virtual ~RunWatcher() = default;
  virtual void on_step(Tick /*reached*/, const double* /*state*/, Evaluator&) {}
  virtual void on_sample(Tick, const double* /*state*/, Evaluator&) {}
  virtual void on_happening(const Happening&, const double* /*state before*/, Evaluator&) {}
  /// A margin (V) of a part in the worst case of a switch-on or burst.
  virtual void on_worst_case(Tick, std::size_t /*part*/, std::size_t /*margin*/, double /*value*/) {}
  /// An instant was looked into, up to `end`, and what it came to. Where it failed its happenings are told before.
  virtual void on_closer_look(Tick /*begin*/, Tick /*end*/, bool /*failed*/) {}
  /// Failed starts that were stepped over: none of their steps and happenings is told.
  virtual void on_leap(const Leap&) {}
  /// A mechanism of brown-out (sim/mechanisms) was seen at work in a part, in words.
  virtual void on_mechanism(Tick, const std::string& /*id*/, const std::string& /*part*/, const std::string& /*text*/) {
  }
};

struct StepCounts {
  std::size_t measured = 0;  ///< accepted ones with a decay that no model gives in closed form
  std::size_t accepted = 0, rejected = 0, happenings = 0, worst_cases = 0, leaps = 0;
  // Instants whose worst case was thin; those looked into, of them those that could not be, and those in which
  // something failed.
  std::size_t thin = 0, closer_looks = 0, refused_looks = 0, failed_looks = 0;
};

class Microscope;
struct WorstCase;

class Simulator {
 public:
  /// All three outlive the simulator. Throws std::invalid_argument for a diagram without states.
  Simulator(const Diagram&, const Weather&, SimulatorOptions, RunWatcher* watcher = nullptr);
  ~Simulator();

  /// Changes a part's states, memory and alarms once they are as the part starts.
  using Arrange = std::function<void(const DiagramPart&, Writable&)>;
  /// The settled state at the start of the weather's span, arranged differently where asked for.
  Context start(const Arrange& arrange = nullptr);
  /// Moves the context to `until` (<= the weather's end).
  void advance(Context&, Tick until);
  /// The same up to the first tick at which drive or memory may have changed: an event, an alarm, the weather.
  void advance_segment(Context&, Tick until);

  /// Solves the network of a context that was changed from outside. Throws SimulationError.
  void resolve(Context&);

  const Diagram& diagram() const { return diagram_; }
  /// The end of the span, or where a fault begins or ends before it.
  Tick undisturbed_until(const Context&) const;
  /// Of the transients that were looked into; null for none.
  const Simulator* transients() const;
  const SimulatorOptions& options() const { return options_; }
  Moment moment(Tick) const;
  const StepCounts& steps() const { return counts_; }
  /// Why the first instant that could not be looked into could not; empty where all could.
  const std::string& refused_look() const { return refused_look_; }
  const SolveCounts& solves() const { return solver_->counts(); }
  /// The evaluator, set to a context's states with its network solved. For reading outputs.
  Evaluator& at(const Context&);

 private:
  struct Integrator;

  void enter_interval(Context&, std::size_t interval);
  void enter_period(Context&, std::size_t period);
  void tell_turns(const Context&, std::size_t period);
  /// The evaluator takes the models of the context's period.
  void follow_faults(const Context& c) {
    if (c.period != period_) use_period(c.period);
  }
  void use_period(std::size_t);
  void solve(Context&, const std::string& reason);
  bool try_solve(Context&);
  bool land_again(Context&, double largest_imbalance);
  static void remember(Context&, Landing);
  bool rounds(Context&, bool record);
  bool step(Context&, Tick until);
  void step_over(Context&, Tick until);
  bool leap(Context&, const Stretch& before, std::size_t turn, Tick end);
  void finish_leap(Context&, Context ahead, const Stretch& before, Leap::Part first, Leap::Part then);
  bool simulate_unseen(Context&, const Context& before, std::size_t turn, Tick until);
  void tell_leap(const Context& from, const Context& to, Leap::Part first, Leap::Part then);
  std::vector<WorstCase> worst_cases(const Context&);
  bool look_closer(Context&, const std::vector<WorstCase>&);
  void tell(const Context&);
  void follow_calendar(const Context&);
  Tick next_stop(const Context&, Tick until) const;
  template <class Guard>
  Tick first_due(Tick low, Tick high, double high_value, Guard&& largest_guard) const;
  void integrate(Context&, Tick stop);
  void fall(Context&, Tick origin, Tick stop, double reached, double beyond);
  double shortest_step() const;
  void count(Context&, const DiagramPart&, const Event&);
  void count(Context& ahead, const Context& from, const Stretch&, double times) const;
  double guard(std::size_t part, std::size_t event) const;
  void arm(Context&, const Event&, std::size_t index, Tick now) const;
  template <class Visit>
  void each_guard(Visit&&) const;

  const Diagram& diagram_;
  const Weather& weather_;
  const FaultPlan plan_;
  SimulatorOptions options_;
  RunWatcher* watcher_;
  Evaluator evaluator_;
  std::unique_ptr<NetworkSolver> solver_;
  std::unique_ptr<Integrator> integrator_;
  StepCounts counts_;
  /// An instant's happenings until the watcher is told, and the system before each of its rounds.
  struct Before {
    std::vector<double> state, network;
    std::vector<std::int32_t> memory;
  };
  std::vector<Happening> happened_;
  std::set<std::string> latest_;  ///< kinds of the last events before there are too many
  std::vector<Before> before_;
  std::string refused_look_;
  Context moment_;  ///< as it stood when the instant's events came due
  std::unique_ptr<Microscope> microscope_;
  Context stressed_;  ///< scratch, but for its landings
  std::vector<double> imbalance_, expected_, landed_;
  bool held_up_ = false, turns_told_ = false;
  std::size_t period_ = 0;  ///< that the evaluator has the models of
  StateTraits traits_;
  std::vector<std::size_t> part_of_state_;
  std::vector<std::size_t> calendar_;  ///< alarms that the SystemC kernel keeps
  std::vector<Tick> laid_;             ///< what the kernel has of them
};

/// ISO 8601 in UTC with the given digits of a second.
std::string iso_time(Tick, int digits = 0);

}  // namespace overwinter
