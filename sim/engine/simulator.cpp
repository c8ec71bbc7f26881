#include "sim/engine/simulator.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "sim/discrete/kernel.hpp"
#include "sim/engine/chatter.hpp"
#include "sim/engine/microscope.hpp"

namespace overwinter {

namespace {

using Vector = std::vector<double>;

constexpr int round_limit = 100;
constexpr Tick marker_pause = ticks_per_second;
constexpr double same_point = 1e-3;     // V
constexpr double latest_events = 1000;  // whose kinds an error about chatter names
constexpr double short_step = 0.5;      // s
constexpr int short_steps = 100;        // in a row: the integration is held up
constexpr Tick shortest_leap = 32;      // turns; a shorter one costs more than it saves
constexpr int leap_tries = 3;
constexpr Tick leap_cut = 8, leap_growth = 8;  // of its length where it came to nothing, and where it came off
constexpr Tick checked = 3;                    // turns, for which there is room behind a leap
constexpr Tick longest_check = 8;              // of the turns' length: two of them are done by then, or other ones
constexpr double straight_below = 20;          // s
constexpr double network_share = 1e-8;         // V, of the tolerance
constexpr double loosest_following = 1e-5;     // tolerance of a following state, of its scale
constexpr double first_reach = 0.01;           // of a following state's scale
constexpr double usual_begins = 3600;          // s, after which a mean power tells
constexpr double shortest = 1e-6;              // s, of a step; below it a vanished branch is a collapse
constexpr double shortest_in_transient = 1e-9, first_in_transient = 1e-7;  // s
constexpr double rest_in_transient = 1e-10;                                // V, below every error of a step there
constexpr std::size_t most_landings = 48;                                  // kept
constexpr double balanced = 1e-9;                                          // A, of a network that nothing has moved
constexpr double same_landing = 0.2;                                       // V, to start from and to end at
constexpr double same_imbalance = 0.1;                                     // of each current
constexpr double noticed = 1e-5;                                           // of the largest current
constexpr int landing_tries = 3;
constexpr std::size_t most_unasked =
    2;                                  // failures that are looked into after a completed wake, as the supply runs down
constexpr std::size_t most_sound = 48;  // instants kept
constexpr double difference = 1e-6;     // V, A or share, of a fast state
constexpr double same_branch = 0.05;    // V, how far a long step's prediction may be off
constexpr double energy_share =
    0.1;  // of the tolerance: share of its throughput that a step's flows may miss of the stored energy

double seconds(Tick from, Tick to) { return static_cast<double>(to - from) / ticks_per_second; }

StepperSettings stepper_settings(const Diagram& diagram, const SimulatorOptions& options) {
  StepperSettings s;
  s.longest_step = options.longest_step;
  s.straight_below = straight_below;
  s.energy_tolerance = options.tolerance * energy_share;
  s.size = diagram.states() + diagram.integrals();
  for (const DiagramPart& part : diagram.parts()) {
    for (const State& state : part.table->states) {
      s.tolerances.push_back((state.follows ? std::min(options.tolerance, loosest_following) : options.tolerance) *
                             state.scale);
      s.scales.push_back(state.scale);
      s.reach.push_back(state.follows ? first_reach * state.scale : std::numeric_limits<double>::infinity());
      if (state.fast) s.fast.push_back(s.scales.size() - 1);
    }
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      const std::size_t place = diagram.states() + part.flow + i;
      if (part.table->flows[i].kind == FlowKind::stored) s.stored.push_back(place);
      if (part.table->flows[i].kind == FlowKind::throughput) s.throughput.push_back(place);
    }
  }
  return s;
}

std::unique_ptr<Stepper> stepper_of(const StepperSettings& settings, const SimulatorOptions& options) {
  if (options.make_stepper) return options.make_stepper(settings);
  switch (options.stepping) {
    case Stepping::phases:
      return make_phase_stepper(settings);
    case Stepping::reference:
      return make_reference_stepper(settings);
    case Stepping::stiff:  // nothing is stiff where nothing is fast
      return settings.fast.empty() ? make_reference_stepper(settings) : make_stiff_stepper(settings);
  }
  return nullptr;
}

/// A loose run need not solve the network to rounding.
std::unique_ptr<NetworkSolver> make_solver(const Diagram& diagram, const SimulatorOptions& options) {
  const double rest =
      options.transient ? rest_in_transient : std::max(network_share * options.tolerance, 0.1 * finest_rest);
  if (options.make_solver) return options.make_solver(diagram, rest);
  return options.elimination == Elimination::dense ? make_dense_solver(diagram, rest)
                                                   : make_compiled_solver(diagram, rest);
}

std::string kind_of(const DiagramPart& part, const Event& event) { return part.name + " \"" + event.name + "\""; }

[[noreturn]] void chatter(const Context& c, const std::set<std::string>& kinds) {
  throw SimulationError(
      fmt::format("{}: more than {:g} events within a minute of simulated time: {} without rest; try a wider "
                  "hysteresis, a longer delay or retry time, or a larger capacitor at the part that begins it",
                  iso_time(c.now, 9), most_events_a_minute, fmt::join(kinds, ", ")));
}

}  // namespace

/// What the stepper sees of a simulation: states in, rates and flows out, the network solved in between.
struct Simulator::Integrator final : StepSystem {
  Integrator(Simulator& s, const SimulatorOptions& options)
      : simulator(s),
        stepper(stepper_of(stepper_settings(s.diagram_, options), options)),
        throughput(stepper_settings(s.diagram_, options).throughput),
        trusted(options.stepping == Stepping::phases ? same_branch : std::numeric_limits<double>::infinity()) {
    s.each_guard([&](std::size_t p, std::size_t e, std::size_t index) {
      const Event& event = s.diagram_.parts()[p].table->events[e];
      if (event.guard) guards.push_back({&event, p, index});
    });
    for (std::size_t p = 0; p < s.diagram_.parts().size(); ++p) {
      const std::vector<State>& states = s.diagram_.parts()[p].table->states;
      if (std::any_of(states.begin(), states.end(), [](const State& state) { return state.fast; })) {
        fast_parts.push_back(p);
      }
    }
  }

  /// A segment begins; the context must outlive it.
  void enter(Context& c) {
    context = &c;
    start = c.state;
    solved = start;
    responses.clear();
    double energy = 0;
    for (const std::size_t i : throughput) energy += start[i];
    usual = energy / std::max(seconds(simulator.weather_.begin(), c.now), usual_begins);
    simulator.solver_->recall(c.solver);
  }

  bool is_solved(const Vector& x) const {
    return std::equal(x.begin(), x.begin() + static_cast<std::ptrdiff_t>(simulator.diagram_.states()), solved.begin());
  }

  /// Where the network was linearised within this step, the solver's start for x is what that gives.
  void foresee(const Vector& x) {
    if (responses.empty() || is_solved(x)) return;
    Vector& network = context->network;
    network = linearised_network;
    for (std::size_t j = 0; j < linearised.size(); ++j) {
      const double moved = x[linearised[j]] - linearised_state[linearised[j]];
      for (std::size_t k = 0; k < network.size(); ++k) network[k] += moved * responses[j][k];
    }
  }

  /// The network vector is the solver's start for the next solve, and so remembers the branch through a step.
  void solve_at(const Vector& x) {
    Simulator& s = simulator;
    Context& c = *context;
    if (is_solved(x)) {
      s.evaluator_.set_inputs(x.data(), c.memory.data(), c.drive.data());
      s.evaluator_.set_solution(c.network.data());
      return;
    }
    const bool found = s.solver_->track(s.evaluator_, c.network, c, solved, x, trusted).converged;
    solved = x;
    if (!found) throw BranchLost{};
  }

  /// The largest of the armed guards where the network was last solved.
  double largest_guard() const {
    double largest = -std::numeric_limits<double>::infinity();
    for (const Guard& g : guards) {
      if (context->armed[g.index]) largest = std::max(largest, value(g));
    }
    return largest;
  }

  /// Takes note of the armed guards that are due where the network was last solved.
  void note_due() {
    due_here.clear();
    for (const Guard& g : guards) {
      if (context->armed[g.index] && value(g) >= 0) due_here.push_back(&g);
    }
  }

  /// The largest of those. What is due only in between does not count: a step is looked at where it ends.
  double largest_noted() const {
    double largest = -std::numeric_limits<double>::infinity();
    for (const Guard* g : due_here) largest = std::max(largest, value(*g));
    return largest;
  }

  /// Arms again what has left its triggering side.
  void rearm(Tick now) {
    for (const Guard& g : guards) {
      if (!context->armed[g.index] && value(g) < 0) simulator.arm(*context, *g.event, g.index, now);
    }
  }

  void slopes(const Vector& x, Vector& dxdt) override {
    foresee(x);
    solve_at(x);
    simulator.evaluator_.rates(dxdt.data());
    simulator.evaluator_.flows(dxdt.data() + simulator.diagram_.states());
  }
  void rates(const Vector& x, Vector& dxdt) override {
    foresee(x);
    solve_at(x);
    simulator.evaluator_.rates(fast_parts, dxdt.data());
  }
  void linearise(Vector& x, const std::vector<std::size_t>& states, double* jacobian) override {
    solve_at(x);
    Evaluator& system = simulator.evaluator_;
    if (!simulator.solver_->factor_at(system, context->network)) throw BranchLost{};
    const std::size_t n = states.size();
    linearised = states;
    linearised_state = x;
    linearised_network = context->network;
    responses.resize(n);
    rates_here.resize(x.size());
    rates_moved.resize(x.size());
    system.rates(fast_parts, rates_here.data());
    for (std::size_t j = 0; j < n; ++j) {
      const std::size_t part = simulator.part_of_state_[states[j]];
      const double value = x[states[j]];
      responses[j].assign(context->network.size(), 0.0);
      system.add_residual(part, -1, responses[j].data());
      x[states[j]] = value + difference;
      system.add_residual(part, 1, responses[j].data());
      x[states[j]] = value;
    }
    Vector& network = context->network;
    for (std::size_t j = 0; j < n; ++j) {
      Vector& answer = responses[j];
      const bool is_felt = std::any_of(answer.begin(), answer.end(), [](double f) { return f != 0; });
      if (is_felt) {
        simulator.solver_->respond(answer.data());
        for (std::size_t k = 0; k < network.size(); ++k) network[k] -= answer[k];
        for (double& volts : answer) volts /= -difference;
      } else {
        rates_moved = rates_here;
      }
      system.set_solution(network.data());
      const double value = x[states[j]];
      x[states[j]] = value + difference;
      if (is_felt) {
        system.rates(fast_parts, rates_moved.data());
        network = linearised_network;
      } else {
        system.rates({simulator.part_of_state_[states[j]]}, rates_moved.data());
      }
      x[states[j]] = value;
      for (std::size_t i = 0; i < n; ++i)
        jacobian[i * n + j] = (rates_moved[states[i]] - rates_here[states[i]]) / difference;
    }
    system.set_solution(network.data());
    if (!simulator.options_.transient) responses.clear();  // a settled network bends within a step
  }
  void decay(double* rate) const override { simulator.evaluator_.decay(rate); }
  double stored_energy() const override { return simulator.evaluator_.stored_energy(); }
  double usual_power() const override { return usual; }
  bool due() const override { return largest_guard() >= 0; }

  struct Guard {
    const Event* event;
    std::size_t part, index;
  };
  double value(const Guard& g) const {
    return g.event->guard(simulator.evaluator_.model(g.part), simulator.evaluator_.view(g.part));
  }

  Simulator& simulator;
  std::unique_ptr<Stepper> stepper;
  std::vector<Guard> guards;
  std::vector<std::size_t> fast_parts;  ///< that have fast states
  std::vector<const Guard*> due_here;
  Context* context = nullptr;
  const std::vector<std::size_t> throughput;  ///< places of those flows' integrals
  const double trusted;  ///< V between a predicted and a solved network, beyond which it may be another branch
  double usual = 0;      ///< W, throughput since the run's begin
  Vector start, point, branch, branch_state;
  Vector solved;  ///< the state for which the network was last solved
  // Of the last linearise(): its states, and the network with its derivative by each of them.
  std::vector<std::size_t> linearised;
  Vector linearised_state, linearised_network, rates_here, rates_moved;
  std::vector<Vector> responses;
};

Simulator::Simulator(const Diagram& diagram, const Weather& weather, SimulatorOptions options, RunWatcher* watcher)
    : diagram_(diagram),
      weather_(weather),
      plan_(diagram, weather.begin(), weather.end()),
      options_(options),
      watcher_(watcher),
      evaluator_(diagram, options.transient),
      solver_(make_solver(diagram, options)),
      integrator_(std::make_unique<Integrator>(*this, options)) {
  if (diagram.states() == 0) throw std::invalid_argument("a diagram without a store has nothing to integrate");
  for (const DiagramPart& part : diagram.parts()) {
    for (const Event& event : part.table->events) {
      if (event.calendar) calendar_.push_back(part.alarm + static_cast<std::size_t>(event.alarm));
    }
  }
  laid_.assign(calendar_.size(), never);
  use_period(0);
  traits_.decay.assign(diagram.states(), 0.0);
  for (const DiagramPart& part : diagram.parts()) {
    for (const State& state : part.table->states) {
      part_of_state_.push_back(static_cast<std::size_t>(&part - diagram.parts().data()));
      traits_.scale.push_back(state.scale);
      traits_.follows.push_back(state.follows ? 1 : 0);
    }
  }
}

Simulator::~Simulator() { DiscreteKernel::instance().release(this); }

Moment Simulator::moment(Tick tick) const {
  return {tick, static_cast<Tick>(std::llround(weather_.site().utc_offset.si() * ticks_per_second))};
}

Context Simulator::start(const Arrange& arrange) {
  Context c;
  c.now = weather_.begin();
  c.state.assign(diagram_.states() + diagram_.integrals(), 0.0);
  c.network.assign(diagram_.unknowns(), 0.0);
  c.memory.assign(diagram_.memories(), 0);
  c.drive.assign(diagram_.drives(), 0.0);
  c.alarm.assign(diagram_.alarms(), never);
  c.armed.assign(diagram_.events(), 1);
  c.marked.assign(diagram_.events(), c.now - marker_pause);
  follow_faults(c);
  enter_interval(c, 0);
  const Ambient& ambient = weather_.intervals().front().ambient;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    Writable w{c.state.data() + part.state, c.memory.data() + part.memory, c.alarm.data() + part.alarm, moment(c.now)};
    evaluator_.model(p).start(ambient, w);
    if (arrange) arrange(part, w);
  }
  evaluator_.set_inputs(c.state.data(), c.memory.data(), c.drive.data());
  evaluator_.set_solution(c.network.data());
  Vector z;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    z.assign(part.width(), 0.0);
    evaluator_.model(p).guess(evaluator_.view(p), z.data());
    for (std::size_t i = 0; i < part.pins(); ++i) {
      if (part.nets[i] >= 0) c.network[part.nets[i]] = std::max(c.network[part.nets[i]], z[i]);
    }
  }
  rounds(c, false);
  tell_turns(c, c.period);
  return c;
}

void Simulator::advance(Context& c, Tick until) {
  while (c.now < until) advance_segment(c, until);
}

void Simulator::advance_segment(Context& c, Tick until) {
  if (until > weather_.end()) throw std::invalid_argument("advance beyond the end of the weather");
  if (step(c, until) && turns_told_ && options_.step_over_hiccups) step_over(c, until);
  if (!watcher_) return;
  watcher_->on_step(c.now, c.state.data(), evaluator_);
  if (options_.sample_every > 0 && (c.now - weather_.begin()) % options_.sample_every == 0) {
    watcher_->on_sample(c.now, c.state.data(), evaluator_);
  }
}

/// To the next stop or event, and through the rounds there. True if a failure was among them.
bool Simulator::step(Context& c, Tick until) {
  follow_calendar(c);
  follow_faults(c);
  const Tick end = weather_.intervals()[c.interval].end;
  if (c.now < end) {
    integrate(c, next_stop(c, until));
    c.solver = solver_->keep();
  }
  DiscreteKernel& kernel = DiscreteKernel::instance();
  if (kernel.next() <= c.now) {
    for (const std::size_t slot : kernel.run_to(c.now)) laid_[slot] = never;
  }
  if (c.now >= plan_.periods()[c.period].end) enter_period(c, c.period + 1);
  if (c.now == end && c.interval + 1 < weather_.intervals().size()) enter_interval(c, c.interval + 1);
  return rounds(c, true);
}

Tick Simulator::next_stop(const Context& c, Tick until) const {
  Tick stop = std::min({until, weather_.intervals()[c.interval].end, plan_.periods()[c.period].end,
                        std::max(DiscreteKernel::instance().next(), c.now + 1)});
  for (const Tick alarm : c.alarm) stop = std::min(stop, std::max(alarm, c.now + 1));
  return stop;
}

Tick Simulator::undisturbed_until(const Context& c) const {
  return std::min(weather_.end(), plan_.periods()[c.period].end);
}

void Simulator::follow_calendar(const Context& c) {
  DiscreteKernel& kernel = DiscreteKernel::instance();
  if (!kernel.bound_to(this)) {
    kernel.bind(this, c.now);
    std::fill(laid_.begin(), laid_.end(), never);
  }
  for (std::size_t slot = 0; slot < calendar_.size(); ++slot) {
    const Tick alarm = c.alarm[calendar_[slot]];
    if (laid_[slot] == alarm) continue;
    kernel.set_alarm(slot, alarm);
    laid_[slot] = alarm;
  }
}

void Simulator::enter_interval(Context& c, std::size_t interval) {
  c.interval = interval;
  const Ambient& ambient = weather_.intervals()[interval].ambient;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    evaluator_.model(p).drive(ambient, c.drive.data() + diagram_.parts()[p].drive);
  }
}

void Simulator::use_period(std::size_t period) {
  period_ = period;
  evaluator_.use(plan_.periods()[period].models);
}

/// What begins or ends with that period; the evaluator holds the system solved.
void Simulator::tell_turns(const Context& c, std::size_t period) {
  for (const FaultPeriod::Turn& turn : plan_.periods()[period].turns) {
    ++counts_.happenings;
    if (watcher_) watcher_->on_happening({c.now, 0, turn.part, turn.event}, c.state.data(), evaluator_);
  }
}

void Simulator::enter_period(Context& c, std::size_t period) {
  solve(c, "where a fault begins or ends");
  tell_turns(c, period);
  if (before_.empty()) before_.emplace_back();
  Before& before = before_.front();
  before.state = c.state;
  before.memory = c.memory;
  evaluator_.set_inputs(before.state.data(), before.memory.data(), c.drive.data());
  Vector booked;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    const Model &former = evaluator_.model(p), &now = *plan_.periods()[period].models[p];
    if (&former == &now) continue;
    booked.assign(part.table->flows.size(), 0.0);
    Writable w{c.state.data() + part.state, c.memory.data() + part.memory, c.alarm.data() + part.alarm, moment(c.now)};
    now.take_over(former, evaluator_.view(p), w, booked.data());
    for (std::size_t f = 0; f < booked.size(); ++f) c.state[diagram_.states() + part.flow + f] += booked[f];
  }
  c.period = period;
  follow_faults(c);
  enter_interval(c, c.interval);
  // What follows is unlike what was: with the Jacobian of a sound joint a chord step takes a broken one for solved.
  c.failure.reset();
  c.sound.reset();
  c.solver.reset();
  c.landings.reset();
  c.branch_sign = 0;
}

double Simulator::shortest_step() const { return options_.transient ? shortest_in_transient : shortest; }

Evaluator& Simulator::at(const Context& c) {
  follow_faults(c);
  evaluator_.set_inputs(c.state.data(), c.memory.data(), c.drive.data());
  evaluator_.set_solution(c.network.data());
  return evaluator_;
}

bool Simulator::try_solve(Context& c) {
  follow_faults(c);
  evaluator_.set_inputs(c.state.data(), c.memory.data(), c.drive.data());
  imbalance_.resize(c.network.size());
  evaluator_.residual(c.network.data(), imbalance_.data());
  double largest = 0;
  for (const double f : imbalance_) largest = std::max(largest, std::abs(f));
  const bool moved = !(largest < balanced);
  if (moved && land_again(c, largest)) return true;
  Landing landing{c.network, imbalance_, {}, 0, nullptr};
  solver_->recall(c.solver);
  const SolveOutcome outcome = solver_->solve(evaluator_, c.network, c.branch_sign);
  if (!outcome.converged) return false;
  c.branch_sign = outcome.sign;
  c.solver = solver_->keep();
  if (moved) remember(c, std::move(landing));
  return true;
}

/// To where the network went last time from much the same point and with much the same imbalance, without the detour.
bool Simulator::land_again(Context& c, double largest) {
  if (!c.landings) return false;
  const auto near = [](const Vector& a, const Vector& b, double reach, double share) {
    return std::equal(a.begin(), a.end(), b.begin(),
                      [=](double x, double y) { return std::abs(x - y) <= reach + share * std::abs(y); });
  };
  int tries = 0;
  for (auto l = c.landings->rbegin(); l != c.landings->rend() && tries < landing_tries; ++l) {
    const Landing& landing = **l;
    if (!near(landing.start, c.network, same_landing, 0)) continue;
    if (!near(landing.imbalance, imbalance_, noticed * largest, same_imbalance)) continue;
    ++tries;
    const std::size_t n = c.network.size();
    expected_.resize(n);
    for (std::size_t i = 0; i < n; ++i) expected_[i] = c.network[i] + landing.network[i] - landing.start[i];
    landed_ = expected_;
    solver_->recall(landing.memory);
    const SolveOutcome outcome = solver_->stay(evaluator_, landed_, landing.sign);
    if (!outcome.converged || !near(expected_, landed_, same_landing, 0)) continue;
    Landing again{c.network, imbalance_, {}, 0, nullptr};
    c.network = landed_;
    c.branch_sign = outcome.sign;
    c.solver = solver_->keep();
    if (c.solver != landing.memory) remember(c, std::move(again));
    evaluator_.set_solution(c.network.data());
    return true;
  }
  return false;
}

void Simulator::remember(Context& c, Landing landing) {
  landing.network = c.network;
  landing.sign = c.branch_sign;
  landing.memory = c.solver;
  auto landings = std::make_shared<Landings>();
  if (c.landings) {
    const std::size_t full = c.landings->size() == most_landings;
    landings->assign(c.landings->begin() + static_cast<std::ptrdiff_t>(full), c.landings->end());
  }
  landings->push_back(std::make_shared<const Landing>(std::move(landing)));
  c.landings = std::move(landings);
}

void Simulator::solve(Context& c, const std::string& reason) {
  if (try_solve(c)) return;
  throw SimulationError(fmt::format("{}: the network has no operating point that can be reached ({}){}",
                                    iso_time(c.now, 9), reason, plan_.periods()[c.period].in_force));
}

void Simulator::resolve(Context& c) {
  follow_faults(c);
  solve(c, "taken up");
}

double Simulator::guard(std::size_t part, std::size_t event) const {
  const DiagramPart& p = diagram_.parts()[part];
  const Event& e = p.table->events[event];
  return e.guard ? e.guard(evaluator_.model(part), evaluator_.view(part)) : -1.0;
}

void Simulator::arm(Context& c, const Event& event, std::size_t index, Tick now) const {
  if (event.reset || now - c.marked[index] >= marker_pause) c.armed[index] = 1;
}

void Simulator::count(Context& c, const DiagramPart& part, const Event& event) {
  const bool sound = count_event(c);
  if (c.events_in_minute < most_events_a_minute - latest_events) {
    latest_.clear();
    return;
  }
  latest_.insert(kind_of(part, event));
  if (!sound) chatter(c, latest_);
}

/// What was stepped over: so many times the stretch before it.
void Simulator::count(Context& ahead, const Context& from, const Stretch& before, double times) const {
  if (count_leap(ahead, from.now, static_cast<double>(before.happened) * times)) return;
  std::set<std::string> kinds;
  for (const CycleEvent& e : before.events) {
    const DiagramPart& part = diagram_.parts()[e.part];
    kinds.insert(kind_of(part, part.table->events[e.event]));
  }
  chatter(from, kinds);
}

template <class Visit>
void Simulator::each_guard(Visit&& visit) const {
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    for (std::size_t e = 0; e < part.table->events.size(); ++e) visit(p, e, part.event + e);
  }
}

bool Simulator::rounds(Context& c, bool record) {
  bool load_step = false, failed = false;
  happened_.clear();
  std::set<std::string> cycle;  // what happens in the last rounds before the limit
  for (int round = 0;; ++round) {
    solve(c, "after an event or a change of weather");
    struct Due {
      std::size_t part, event, index;
    };
    std::vector<Due> due;
    each_guard([&](std::size_t p, std::size_t e, std::size_t index) {
      const DiagramPart& part = diagram_.parts()[p];
      if (part.table->events[e].held_up) {
        if (held_up_) due.push_back({p, e, index});
        return;
      }
      if (!part.table->events[e].guard) {
        if (c.alarm[part.alarm + static_cast<std::size_t>(part.table->events[e].alarm)] <= c.now) {
          due.push_back({p, e, index});
        }
        return;
      }
      const bool holds = guard(p, e) >= 0;
      if (holds && c.armed[index]) due.push_back({p, e, index});
      if (!holds) arm(c, part.table->events[e], index, c.now);
    });
    held_up_ = false;
    if (due.empty()) {
      if (record) {
        std::vector<WorstCase> worst;
        if (load_step && !options_.transient && (watcher_ || options_.look_closer)) worst = worst_cases(c);
        if (load_step && options_.look_closer && !failed && look_closer(c, worst)) return true;
        tell(c);
        if (watcher_) {
          for (const WorstCase& w : worst) watcher_->on_worst_case(c.now, w.part, w.margin, w.value);
        }
      }
      if (failed && !options_.transient) turns_told_ = note_failure(c, traits_);
      return failed;
    }
    if (round == round_limit) {
      throw SimulationError(fmt::format("{}: events keep causing each other without time passing: {}",
                                        iso_time(c.now, 9), fmt::join(cycle, ", ")));
    }
    if (options_.stepping == Stepping::phases) c.step = options_.longest_step;
    if (round == 0 && record && options_.look_closer) moment_ = c;
    if (before_.size() == static_cast<std::size_t>(round)) before_.emplace_back();
    Before& before = before_[static_cast<std::size_t>(round)];
    before.state = c.state;
    before.memory = c.memory;
    before.network = c.network;
    evaluator_.set_inputs(before.state.data(), before.memory.data(), c.drive.data());
    evaluator_.set_solution(before.network.data());
    for (const Due& d : due) {
      const DiagramPart& part = diagram_.parts()[d.part];
      const Event& event = part.table->events[d.event];
      // A reset of the same part in this round may have taken the alarm back.
      if (event.alarm >= 0 && c.alarm[part.alarm + static_cast<std::size_t>(event.alarm)] > c.now) continue;
      c.armed[d.index] = 0;
      if (round >= round_limit / 2) cycle.insert(kind_of(part, event));
      c.marked[d.index] = c.now;
      count(c, part, event);
      load_step = load_step || event.load_step;
      failed = follow_failures(c, {c.now, d.part, d.event}, event) || failed;
      happened_.push_back({c.now, round, &part, &event});
      if (!event.reset) continue;
      if (options_.transient) c.step = first_in_transient;
      Writable w{c.state.data() + part.state, c.memory.data() + part.memory, c.alarm.data() + part.alarm,
                 moment(c.now)};
      event.reset(evaluator_.model(d.part), evaluator_.view(d.part), w);
    }
  }
}

void Simulator::tell(const Context& c) {
  counts_.happenings += happened_.size();
  if (!watcher_ || happened_.empty()) return;
  int round = -1;
  for (const Happening& h : happened_) {
    const Before& before = before_[static_cast<std::size_t>(h.round)];
    if (h.round != round) {
      evaluator_.set_inputs(before.state.data(), before.memory.data(), c.drive.data());
      evaluator_.set_solution(before.network.data());
      round = h.round;
    }
    watcher_->on_happening(h, before.state.data(), evaluator_);
  }
  at(c);
}

/// Whether something fails in the instant that has just been gone through and has these worst cases; then the context
/// is the one after it.
bool Simulator::look_closer(Context& c, const std::vector<WorstCase>& worst) {
  if (c.now < c.looked_until || (!c.asked && c.in_vain > most_unasked)) return false;
  Instant instant;
  instant.worst = worst;
  std::vector<double> flow(diagram_.integrals());
  evaluator_.flows(flow.data());
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    const bool switched_on =
        part.table->missing_charge &&
        std::any_of(happened_.begin(), happened_.end(), [&](const Happening& h) { return h.part == &part; });
    if (switched_on) {
      instant.missing_charge += part.table->missing_charge(evaluator_.model(p), evaluator_.view(p));
    }
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      if (part.table->flows[f].kind == FlowKind::delivered) instant.delivered.push_back(flow[part.flow + f]);
    }
  }
  if (!is_thin(instant)) return false;
  ++counts_.thin;
  for (const Happening& h : happened_) {
    const auto part = static_cast<std::size_t>(h.part - diagram_.parts().data());
    instant.events.push_back({0, part, static_cast<std::size_t>(h.event - h.part->table->events.data())});
  }
  if (const SoundInstant* then = known_sound(instant, c.sound.get())) {
    c.looked_until = c.now + then->length;
    return false;
  }
  if (!microscope_) microscope_ = std::make_unique<Microscope>(diagram_, weather_, options_);
  ++counts_.closer_looks;
  Microscope::Sight sight = microscope_->follow(*this, moment_, watcher_ != nullptr);
  if (!sight.refused.empty()) {
    ++counts_.refused_looks;
    if (refused_look_.empty()) refused_look_ = std::move(sight.refused);
    at(c);
    return false;
  }
  const Tick begin = c.now, end = sight.end.now;
  if (sight.failed) {
    ++counts_.failed_looks;
    if (watcher_) microscope_->tell(sight, *watcher_);
    c = microscope_->leave(*this, sight.end);
    held_up_ = false;
    turns_told_ = note_failure(c, traits_);
  } else {
    auto sound = std::make_shared<SoundInstants>();
    if (c.sound) {
      const std::size_t full = c.sound->size() == most_sound;
      sound->assign(c.sound->begin() + static_cast<std::ptrdiff_t>(full), c.sound->end());
    }
    sound->push_back(
        std::make_shared<const SoundInstant>(SoundInstant{std::move(instant), std::move(sight.least), end - begin}));
    c.sound = std::move(sound);
    at(c);
  }
  c.looked_until = end;
  if (watcher_) watcher_->on_closer_look(begin, end, sight.failed);
  return sight.failed;
}

const Simulator* Simulator::transients() const { return microscope_ ? &microscope_->transient() : nullptr; }

/// Over failures, by one of the two ways of hiccup.hpp.
void Simulator::step_over(Context& c, Tick until) {
  at(c);
  evaluator_.decay(traits_.decay.data());
  const Tick end = std::min({until, weather_.intervals()[c.interval].end, plan_.periods()[c.period].end});
  if (const std::size_t turn = repeating(c); turn > 0) {
    const Stretch before = latest_turns(c, turn);
    if (leap(c, before, turn, std::min(end, before.bound))) return;
  }
  const Stretch kinds = latest_turns(c, c.turns.size());
  const double share = share_of(c, std::min(end, kinds.bound), traits_);
  if (share < 1) return;
  Context ahead = spread(c, share, kinds, traits_);
  if (!try_solve(ahead)) {
    at(c);
    return;
  }
  const Stretch latest = latest_turns(c, 1);
  finish_leap(c, std::move(ahead), latest, {latest.events, share}, {});
}

/// As far as the turns after, simulated unseen, are like the one before. False where they are not.
bool Simulator::leap(Context& c, const Stretch& before, std::size_t turn, Tick end) {
  const Tick room = end - c.now, longest = room - checked * before.length;
  Tick time = std::min({longest, std::max(c.leap, shortest_leap * before.length), longest_leap(c, turn)});
  bool came_off = true;
  int tries = 0;
  for (; tries < leap_tries && time >= shortest_leap * before.length; ++tries) {
    Context ahead = overwinter::step_over(c, before, time, traits_);
    Context behind = ahead;
    const bool alike = simulate_unseen(behind, c, turn, std::min(end, ahead.now + longest_check * before.length));
    if (!alike && behind.now >= end) {  // too near to it
      time = room - 4 * (room - time);
      continue;
    }
    Stretch after;
    if (alike) after = latest_turns(behind, turn);
    if (!alike || !correct_step(behind, ahead, before, after, time, traits_) || !try_solve(behind)) {
      time /= leap_cut;
      came_off = false;
      continue;
    }
    if (time < longest) behind.leap = came_off ? leap_growth * time : time;
    go_on(behind, turn);
    behind.minute = c.minute;
    behind.events_in_minute = c.events_in_minute;
    const double half = seconds(0, time) / 2;
    finish_leap(c, std::move(behind), before, {before.events, half / seconds(0, before.length)},
                {after.events, half / seconds(0, after.length) + 2});
    return true;
  }
  at(c);
  if (tries == 0) return false;
  want_more_turns(c);
  c.leap = 0;
  return false;
}

void Simulator::finish_leap(Context& c, Context ahead, const Stretch& before, Leap::Part first, Leap::Part then) {
  count(ahead, c, before, first.times + then.times);
  ++counts_.leaps;
  if (watcher_) tell_leap(c, ahead, std::move(first), std::move(then));
  c = std::move(ahead);
  at(c);
}

/// Two turns of so many failures from there on, without a word to the watcher. False if something else happens, or
/// too few come before `until`.
bool Simulator::simulate_unseen(Context& c, const Context& before, std::size_t turn, Tick until) {
  RunWatcher* const watcher = std::exchange(watcher_, nullptr);
  const std::size_t wanted = 2 * turn;
  bool alike = true;
  try {
    solve(c, "after failures");
    while (alike && c.turns.size() < wanted && c.now < until) {
      if (step(c, until)) alike = c.failure && goes_on(c, before, turn);
    }
  } catch (const SimulationError&) {  // extrapolated too far
    alike = false;
  }
  watcher_ = watcher;
  return alike && c.turns.size() == wanted;
}

void Simulator::tell_leap(const Context& from, const Context& to, Leap::Part first, Leap::Part then) {
  if (options_.sample_every > 0) {
    Context between = from;
    const Tick since = from.now - weather_.begin();
    for (Tick s = weather_.begin() + (since / options_.sample_every + 1) * options_.sample_every; s < to.now;
         s += options_.sample_every) {
      const double share = seconds(from.now, s) / seconds(from.now, to.now);
      for (std::size_t i = 0; i < between.state.size(); ++i) {
        between.state[i] = from.state[i] + share * (to.state[i] - from.state[i]);
      }
      if (!try_solve(between)) at(between = from);
      watcher_->on_sample(s, between.state.data(), evaluator_);
    }
  }
  double energy = 0, source = 0;
  for (const DiagramPart& part : diagram_.parts()) {
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      const std::size_t place = diagram_.states() + part.flow + f;
      const double joules = to.state[place] - from.state[place];
      const FlowKind kind = part.table->flows[f].kind;
      if (kind == FlowKind::delivered || kind == FlowKind::lost) energy += joules;
      if (kind == FlowKind::source) source += joules;
    }
  }
  const double stored = at(to).stored_energy() - at(from).stored_energy();
  watcher_->on_leap({from.now, to.now, std::move(first), std::move(then), energy, source - energy - stored});
}

std::vector<WorstCase> Simulator::worst_cases(const Context& c) {
  std::vector<WorstCase> worst;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    for (const Stress& stress : part.table->stresses) {
      at(c);
      stressed_.memory = c.memory;
      if (!stress.arrange(evaluator_.model(p), evaluator_.view(p), stressed_.memory.data() + part.memory)) continue;
      ++counts_.worst_cases;
      stressed_.state = c.state;
      stressed_.drive = c.drive;
      stressed_.period = c.period;
      stressed_.network = c.network;
      stressed_.branch_sign = 0;
      stressed_.solver.reset();
      if (!try_solve(stressed_)) {
        throw SimulationError(fmt::format("{}: the network has no operating point in the worst case \"{}\" of {}",
                                          iso_time(c.now, 9), stress.name, part.name));
      }
      for (std::size_t m = 0; m < part.table->margins.size(); ++m) {
        worst.push_back({p, m, part.table->margins[m].value(evaluator_.model(p), evaluator_.view(p))});
      }
    }
  }
  at(c);
  return worst;
}

/// The first tick in (low, high] at which the largest of the guards that are due at `high` is >= 0. Regula falsi on the
/// guards' values with the weights of Anderson & Bjorck 1973, BIT 13, 253-264; a bisection where three probes have not
/// made an eighth of the interval.
template <class Guard>
Tick Simulator::first_due(Tick low, Tick high, double high_value, Guard&& largest_guard) const {
  if (high - low <= 1) return high;
  double low_value = largest_guard(low);
  if (low_value >= 0) return low + 1;  // rounding put the step's begin on the far side
  int last_side = 0;
  bool bisect = false;
  Tick width = high - low;
  for (int probe = 1; high - low > 1; ++probe) {
    Tick guess = low + (high - low) / 2;
    if (!bisect && std::isfinite(low_value) && std::isfinite(high_value) && high_value > low_value) {
      const double share = -low_value / (high_value - low_value);
      guess = low + static_cast<Tick>(share * static_cast<double>(high - low));
      guess = std::clamp(guess, low + 1, high - 1);
    }
    const double value = largest_guard(guess);
    const int side = value >= 0 ? 1 : -1;
    double& moved = side > 0 ? high_value : low_value;
    double& kept = side > 0 ? low_value : high_value;
    if (side == last_side) kept *= value / moved < 1 ? 1 - value / moved : 0.5;
    moved = value;
    (side > 0 ? high : low) = guess;
    last_side = side;
    bisect = false;
    if (probe % 3 == 0) {
      bisect = high - low > width / 8;
      width = high - low;
    }
  }
  return high;
}

void Simulator::integrate(Context& c, Tick stop) {
  Integrator& in = *integrator_;
  Stepper& stepper = *in.stepper;
  const Tick origin = c.now;
  const double length = seconds(origin, stop);
  in.enter(c);
  double reached = 0;
  bool restart = true;
  while (reached < length) {
    try {
      if (options_.look) options_.look();
    } catch (...) {
      c.state = in.start;
      c.now = origin + static_cast<Tick>(std::llround(reached * ticks_per_second));
      throw;
    }
    const double remaining = length - reached;
    try {
      in.branch = c.network;
      in.branch_state = in.solved;
      // A step that would pass the stop, or leave a sliver before it, is made to end there.
      if (restart) stepper.initialize(in.start, reached, std::min(c.step, options_.longest_step));
      restart = false;
      const double wanted = stepper.current_time_step();
      if (wanted * 1.01 > remaining && wanted != remaining) stepper.resize(remaining);
      const auto [t0, end] = stepper.do_step(in);
      ++counts_.accepted;
      counts_.measured += stepper.measured();
      const double t1 = std::abs(end - length) < 0.5 / ticks_per_second ? length : end;

      // Guards at the end of the step.
      in.point = stepper.current_state();
      in.solve_at(in.point);
      const double largest = in.largest_guard();
      const bool due = largest >= 0;
      if (!due) in.rearm(origin + static_cast<Tick>(std::floor(t1 * ticks_per_second)));
      if (!due && watcher_) {
        watcher_->on_step(origin + static_cast<Tick>(std::llround(t1 * ticks_per_second)), in.point.data(), evaluator_);
      }
      Tick event_tick = never;
      if (due) {
        in.note_due();
        // Each probe comes from the side on which nothing is due: beyond a fold the network can have two solutions.
        const auto largest_guard = [&](Tick tick) {
          c.network = in.branch;
          in.solved = in.branch_state;
          stepper.calc_state(seconds(origin, tick), in.point);
          in.solve_at(in.point);
          const double value = in.largest_noted();
          if (value < 0) {
            in.branch = c.network;
            in.branch_state = in.solved;
          }
          return value;
        };
        event_tick = first_due(origin + static_cast<Tick>(std::floor(t0 * ticks_per_second)),
                               std::min(stop, origin + static_cast<Tick>(std::ceil(t1 * ticks_per_second))), largest,
                               largest_guard);
      }

      // Samples strictly inside what is kept of the step.
      if (watcher_ && options_.sample_every > 0) {
        const Tick begin = origin + static_cast<Tick>(std::floor(t0 * ticks_per_second));
        const Tick kept =
            std::min({stop, event_tick, origin + static_cast<Tick>(std::floor(t1 * ticks_per_second)) + 1});
        const Tick since = begin - weather_.begin();
        for (Tick s = weather_.begin() + (since / options_.sample_every + 1) * options_.sample_every; s < kept;
             s += options_.sample_every) {
          stepper.calc_state(seconds(origin, s), in.point);
          in.solve_at(in.point);
          watcher_->on_sample(s, in.point.data(), evaluator_);
        }
      }

      c.short_steps = t1 - t0 < short_step && !options_.transient ? c.short_steps + 1 : 0;
      if (event_tick != never) {
        stepper.calc_state(seconds(origin, event_tick), c.state);
        c.step = std::max(t1 - t0, shortest_step());
        c.now = event_tick;
        return;
      }
      in.start = stepper.current_state();
      c.step = std::max(stepper.current_time_step(), shortest_step());
      reached = t1;
      const Tick tick = origin + static_cast<Tick>(std::llround(t1 * ticks_per_second));
      if (c.short_steps >= short_steps && tick > origin && tick < stop) {
        c.short_steps = 0;
        held_up_ = true;
        c.state = in.start;
        c.now = tick;
        return;
      }
    } catch (const BranchLost&) {
      ++counts_.rejected;
      c.network = in.branch;
      in.solved = in.branch_state;
      in.responses.clear();
      solver_->recall(nullptr);
      restart = true;
      const double tried = std::min(c.step, remaining);
      c.step = tried / 4;
      if (c.step >= shortest_step()) continue;
      c.step = options_.transient ? first_in_transient : 1.0;
      fall(c, origin, stop, reached, 2 * tried);
      return;
    }
  }
  c.state = in.start;
  c.now = stop;
}

void Simulator::fall(Context& c, Tick origin, Tick stop, double reached, double beyond) {
  // The branch is there at the last accepted point and gone within the step just tried: a straight line leads past it.
  const Vector former = c.network;
  const std::size_t slow = diagram_.states();
  c.state = integrator_->start;
  Vector slope(c.state.size());
  solve(c, "at a collapse");
  evaluator_.rates(slope.data());
  evaluator_.flows(slope.data() + slow);
  for (std::size_t i = 0; i < slope.size(); ++i) c.state[i] += beyond * slope[i];
  c.now = std::min(stop,
                   origin + std::max<Tick>(1, static_cast<Tick>(std::llround((reached + beyond) * ticks_per_second))));
  evaluator_.set_inputs(c.state.data(), c.memory.data(), c.drive.data());
  const SolveOutcome outcome = solver_->solve(evaluator_, c.network, c.branch_sign);
  if (!outcome.converged) {
    throw SimulationError(fmt::format("{}: the network has no operating point that can be reached (after a collapse){}",
                                      iso_time(c.now, 9), plan_.periods()[c.period].in_force));
  }
  c.branch_sign = outcome.sign;
  if (!outcome.left_branch) return;
  std::size_t fallen = 0;
  for (std::size_t i = 0; i < diagram_.nets().size(); ++i) {
    if (std::abs(c.network[i] - former[i]) > std::abs(c.network[fallen] - former[fallen])) fallen = i;
  }
  // The solver may only have needed its detour: the same point again is no collapse.
  if (std::abs(c.network[fallen] - former[fallen]) < same_point) return;
  ++counts_.happenings;
  if (watcher_) {
    watcher_->on_happening({c.now, 0, nullptr, nullptr,
                            fmt::format("net {} went from {:.3f} V to {:.3f} V", diagram_.nets()[fallen],
                                        former[fallen], c.network[fallen])},
                           c.state.data(), evaluator_);
  }
}

const std::string& Happening::part_name() const {
  static const std::string none;
  return part ? part->name : none;
}

const std::string& Happening::event_name() const {
  static const std::string collapse = "collapse";
  return event ? event->name : collapse;
}

std::string name_of(Stepping stepping) {
  switch (stepping) {
    case Stepping::phases:
      return "phases";
    case Stepping::reference:
      return "reference";
    case Stepping::stiff:
      return "stiff";
  }
  return {};
}

std::string iso_time(Tick tick, int digits) {
  Tick day = tick / ticks_per_day, rest = tick % ticks_per_day;
  if (rest < 0) {
    rest += ticks_per_day;
    --day;
  }
  const CivilDate date = civil_date(day);
  const Tick whole = rest / ticks_per_second;
  std::string text = fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}", date.year, date.month, date.day, whole / 3600,
                                 whole / 60 % 60, whole % 60);
  if (digits > 0)
    text += "." + fmt::format("{:09}", rest % ticks_per_second).substr(0, static_cast<std::size_t>(digits));
  return text + "Z";
}

}  // namespace overwinter
