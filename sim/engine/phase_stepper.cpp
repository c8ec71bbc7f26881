// Exponential time differencing Runge-Kutta of third order (ETD3RK: Cox & Matthews 2002, J. Comput. Phys. 176,
// 430-455) with a diagonal linear part -lambda, taken at the step's begin; and one correction on the nodes of Lobatto's
// quadrature where the energy of a relaxation asks for it.
//
//   dx/dt = -lambda x + N(x), z = -lambda h, phi_k of phi.hpp
//   (1) Na = N(a), a = e^(z/2) x0 + h/2 phi_1(z/2) N0
//   (2) Nb = N(b), b = e^z x0 + h phi_1(z) (2 Na - N0)
//   (3) x(t0 + s h) = e^(s z) x0 + s h sum of k! phi_(k+1)(s z) s^k c_k    N = c_0 + c_1 s + c_2 s^2 + ... integrated
//                                                                          exactly
//   (4) x1 = (3) at s = 1 with the parabola through N0, Na and Nb at s = 0, 1/2 and 1
//   (5) error = h (4 phi_3 - phi_2) (N0 - 2 Na + Nb)                       less (4) with the straight line through N0
//                                                                          and Na, which is of second order
//   (6) dense output: (3) with the parabola from N0 to N1 = N(x1) that leads to x1; for lambda = 0 Hermite's cubic
//   (7) defect = change of the stored energy in closed form - integral of the stored flows
//   (8) corrected x1 = (3) with the polynomial through N0, N at three points of (6), and N1, at Lobatto's five nodes
//
//   (9) b = e^z x0 + h phi_1(z) N0                                         of first order
//  (10) x1 = (3) at s = 1 with the straight line through N0 and N(b)       ETD2RK, same source
//
// Short steps, such as the phases of a wake, are taken by (10) where that is good enough: two solves instead of three.
// What (10) leaves off, a second difference of N over the step, is guessed from the first difference, the fastest
// decay and the share by which N changes; the bound is the tolerance itself. Such a step is looked at only at its end.
//
// With lambda = 0, (4) is Kutta's rule of third order and Simpson's for a flow; (8) is Lobatto's rule, exact to degree
// 7 in what is integrated (Abramowitz & Stegun 1964, 25.4.32). A pair that relaxes under a constant current is exact at
// any length of step; what its relaxation does to the flows is not, and (7), which summed over all steps is the audit's
// residual, tells. Where it is too large (8) is tried, and only then a shorter step.
// lambda is Model::decay. For a state whose error makes a step fail or holds the growth of steps up it is measured, and
// kept up to date until the segment's end where it is larger, from a small difference of the state with the network
// solved anew: a capacitor that runs out through resistive loads is a plain decay, but only the network knows its rate.
// Where a fast state holds the steps up although its own rate has been measured, another is in contact with it: from
// there to the segment's end the fast states are led in their modes (modes.hpp), which are taken anew where one of them
// holds the steps up.
// The error of (5) is that of the second-order result; (4), which is kept, is better, so that (5) may be 50 times the
// tolerance (measured: with it the events of the whole instrument lie closer to CVODE's than the reference stepper's).
// The next length is the last one times 0.9 e^(-1/p) with each criterion's own order p (Hairer, Norsett & Wanner,
// Solving Ordinary Differential Equations I, II.4). N1 is the next step's N0. Where an event is due inside a step but
// not at its end, the step is shortened until it is.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "sim/engine/modes.hpp"
#include "sim/engine/phi.hpp"
#include "sim/engine/stepper.hpp"

namespace overwinter {

namespace {

using Vector = std::vector<double>;

constexpr double safety = 0.9, least_factor = 0.02, largest_factor = 5;
constexpr double overestimate = 50;  // of (5) over the error of (4)
constexpr double usual_time = 20;    // s, of the usual throughput beside a step's: in some only a store relaxes
constexpr double least_scale = 3e-3, largest_scale = 0.3;  // J, of that throughput
constexpr double rounding = 1e-15;                         // of the stored energy
constexpr double shortest_watched = 1e-3;                  // s, a step into which no event is searched for
constexpr double stiff = -100;                             // z; below it (6) would be made of rounding
constexpr double far_from_rest = 1e3;                      // tolerances
constexpr double far_from_zero = 3e-3;                     // of the scale
constexpr double first_stretch = 2.5;                      // time constants
constexpr double held_up = 3;                              // growth below which a state holds the steps up
constexpr double faster = 1.1;                             // than told, for a measured rate to be kept
constexpr double difference = 10;                          // tolerances, for measuring a rate
constexpr int most_trials = 500;
constexpr int modes_stand = 8;  // steps, before they are taken anew

constexpr std::size_t terms = 5;  // of the polynomial in (3)
using Nodes = std::array<double, terms>;

/// Lobatto's five on 0...1: the ends, the middle, and (1 +- sqrt(3/7))/2.
constexpr Nodes lobatto = {0, 0.17267316464601143, 0.5, 0.82732683535398857, 1};

/// The coefficients of s^0...s^4 of the polynomial that is one at a node and zero at the others.
std::array<Nodes, terms> lobatto_basis() {
  std::array<Nodes, terms> basis{};
  for (std::size_t j = 0; j < terms; ++j) {
    basis[j][0] = 1;
    std::size_t degree = 0;
    for (std::size_t m = 0; m < terms; ++m) {
      if (m == j) continue;
      const double scale = 1 / (lobatto[j] - lobatto[m]);
      ++degree;
      for (std::size_t k = degree + 1; k-- > 0;) {
        basis[j][k] = scale * ((k > 0 ? basis[j][k - 1] : 0) - lobatto[m] * basis[j][k]);
      }
    }
  }
  return basis;
}

class PhaseStepper final : public Stepper {
 public:
  explicit PhaseStepper(const StepperSettings& s)
      : s_(s),
        states_(s.tolerances.size()),
        tolerances_(s.tolerances),
        rate_(states_),
        z_(states_),
        whole_(states_),
        suspected_(states_),
        measured_(states_),
        c_(s.size) {
    for (double& t : tolerances_) t *= overestimate;
    for (Vector* v : {&x0_, &x1_, &f0_, &f1_, &n0_, &na_, &nb_, &point_, &end_, &states_at_}) v->resize(s.size);
    for (Vector& n : inner_) n.resize(s.size);
  }

  void initialize(const Vector& x, double t, double h) override {
    x1_ = x;
    t1_ = t;
    next_ = std::min(h, s_.longest_step);
    known_ = false;
    suspect_ = states_;
    std::fill(suspected_.begin(), suspected_.end(), false);
    std::fill(measured_.begin(), measured_.end(), false);
    is_measured_ = false;
    due_time_ = 0;
    modes_.drop();
    modes_since_ = modes_stand;
    reached_ = x;
  }

  void resize(double h) override {
    uncut_ = next_;
    next_ = std::min(h, s_.longest_step);
  }

  std::pair<double, double> do_step(StepSystem& system) override {
    begin(system);
    for (int trial = 0; trial < most_trials; ++trial) {
      h_ = next_;
      const double factor = attempt(system);
      next_ = std::min(h_ * factor, s_.longest_step);
      if (factor >= safety) {
        next_ = std::max(next_, uncut_);
        uncut_ = 0;
        t1_ = t0_ + h_;
        if (due_time_ > t1_) next_ = std::min(next_, due_time_ - t1_);
        known_ = true;
        reached_ = x1_;
        modes_.to_states(reached_);
        return {t0_, t1_};
      }
      uncut_ = 0;
      if (question(system)) next_ = h_;
    }
    throw std::runtime_error("no step is short enough");
  }

  void calc_state(double t, Vector& x) const override {
    interpolate((t - t0_) / h_, x);
    modes_.to_states(x);
  }
  const Vector& current_state() const override { return reached_; }
  double current_time_step() const override { return next_; }
  bool measured() const override { return is_measured_; }

 private:
  /// The last step's end becomes the next one's begin.
  void begin(StepSystem& system) {
    const bool first = !known_;
    if (first) {
      system.slopes(x1_, f1_);
      energy_ = system.stored_energy();
      read_decay(system);
      energy_scale_ = std::clamp(usual_time * system.usual_power(), least_scale, largest_scale);
    }
    known_ = false;
    x0_.swap(x1_);
    f0_.swap(f1_);
    n0_ = f0_;
    t0_ = t1_;
    if (modes_since_ < modes_stand) ++modes_since_;
    for (std::size_t i = 0; i < states_; ++i) {
      n0_[i] += rate_[i] * x0_[i];
      if (first && std::abs(f0_[i]) * next_ > s_.reach[i]) measured_[i] = suspected_[i] = true;
      if (measured_[i]) {
        measure(system, i);
        is_measured_ = true;
      }
      if (!first) continue;
      const double away = std::abs(f0_[i]) / rate_[i];
      if (away > s_.reach[i]) shorten(s_.reach[i] / std::abs(f0_[i]));
      // A relaxation that begins here is met with a step of its own length.
      if (away > std::min(far_from_rest * s_.tolerances[i], far_from_zero * s_.scales[i])) {
        shorten(first_stretch / rate_[i]);
      }
    }
    question(system);
  }

  /// The next step, and what follows from its length.
  void shorten(double h) {
    if (h >= next_) return;
    next_ = h;
    uncut_ = 0;
  }

  /// Measures the rate of the state that holds the steps up, once, and then takes the modes that it is part of; whether
  /// that pays.
  bool question(StepSystem& system) {
    if (suspect_ == states_) return false;
    if (suspected_[suspect_]) return std::count(s_.fast.begin(), s_.fast.end(), suspect_) > 0 && take_modes(system);
    suspected_[suspect_] = true;
    const double told = rate_[suspect_];
    measure(system, suspect_);
    measured_[suspect_] = rate_[suspect_] > faster * told;
    return measured_[suspect_];
  }

  /// Leads the fast states in their modes at x0 from now on. False where they are those known already, or there are
  /// none.
  bool take_modes(StepSystem& system) {
    if (modes_since_ < modes_stand) return false;
    modes_since_ = 0;
    modes_.to_states(x0_);
    system.slopes(x0_, f0_);
    jacobian_.resize(s_.fast.size() * s_.fast.size());
    states_at_ = x0_;
    system.linearise(states_at_, s_.fast, jacobian_.data());
    const bool taken = modes_.take(s_.fast, jacobian_, s_.tolerances);
    read_decay(system);
    modes_.to_modes(x0_);
    modes_.to_modes(f0_);
    for (const std::size_t i : modes_.states()) measured_[i] = false;
    n0_ = f0_;
    for (std::size_t i = 0; i < states_; ++i) n0_[i] += rate_[i] * x0_[i];
    for (std::size_t i = 0; i < states_; ++i) {
      if (measured_[i]) measure(system, i);
    }
    is_measured_ = is_measured_ || taken;
    return taken;
  }

  /// The known rates where the system was last looked at.
  void read_decay(const StepSystem& system) {
    system.decay(rate_.data());
    for (std::size_t k = 0; k < modes_.states().size(); ++k) rate_[modes_.states()[k]] = modes_.rate(k);
  }

  /// The rates of states and flows at x, which are led in modes where there are any.
  void slopes(StepSystem& system, const Vector& x, Vector& f) {
    if (!modes_.any()) return system.slopes(x, f);
    states_at_ = x;
    modes_.to_states(states_at_);
    system.slopes(states_at_, f);
    modes_.to_modes(f);
  }

  /// The rate with which state i runs down at x0, the network's answer included, if it is larger than known.
  void measure(StepSystem& system, std::size_t i) {
    const double change = std::copysign(difference * s_.tolerances[i], f0_[i]);
    point_ = x0_;
    point_[i] += change;
    slopes(system, point_, na_);
    rate_[i] = std::max(rate_[i], (f0_[i] - na_[i]) / change);
    n0_[i] = f0_[i] + rate_[i] * x0_[i];
  }

  /// Tries the step from t0_ of length h_. The factor for the next length; below `safety` where this one failed.
  double attempt(StepSystem& system) {
    suspect_ = states_;
    due_ = false;
    for (std::size_t i = 0; i < states_; ++i) {
      z_[i] = -rate_[i] * h_;
      const Phi half = phi(z_[i] / 2);
      point_[i] = half[0] * x0_[i] + h_ / 2 * half[1] * n0_[i];  // (1)
      whole_[i] = phi(z_[i]);
    }
    if (h_ <= s_.straight_below && !is_measured_ && straight(system)) return largest_factor;
    look(system, point_, na_);
    if (due_inside(system)) return before_due();
    for (std::size_t i = 0; i < states_; ++i) {
      point_[i] = whole_[i][0] * x0_[i] + h_ * whole_[i][1] * (2 * na_[i] - n0_[i]);  // (2)
    }
    look(system, point_, nb_);
    const double by_error = judge_error();
    if (!(by_error >= safety)) return std::max(by_error, least_factor);
    if (by_error > held_up) suspect_ = states_;

    for (std::size_t i = 0; i < s_.size; ++i) {
      const double bend = n0_[i] - 2 * na_[i] + nb_[i];
      c_[i] = {n0_[i], nb_[i] - n0_[i] - 2 * bend, 2 * bend};
    }
    double energy = end(system);  // (4)
    for (std::size_t i = 0; i < s_.size; ++i) {
      if (i < states_ && z_[i] < stiff) continue;
      const Phi& p = i < states_ ? whole_[i] : phi_of_zero;
      const double miss = nb_[i] - end_n(i), lead = p[2] / (p[2] - 2 * p[3]) * miss;
      c_[i][1] += lead - miss;  // (6)
      c_[i][2] -= lead;
    }
    double by_defect = largest_factor;
    if (const double plain = defect(energy); !(plain <= 1)) {
      correct(system);
      energy = end(system);  // (8)
      const double mended = defect(energy);
      by_defect = safety * std::pow(mended, -1.0 / 8);
      if (!(mended <= 1)) return std::clamp(std::min(by_defect, to_relax()), least_factor, safety * safety);
    }
    if (due_ && !system.due()) return 0.5;
    energy_ = energy;
    read_decay(system);
    return std::clamp(std::min(by_error, by_defect), safety, largest_factor);
  }

  /// (9), (10). Whether the step was as good as that; otherwise nothing but nb_ is changed.
  bool straight(StepSystem& system) {
    double fastest = 0;
    for (std::size_t i = 0; i < states_; ++i) {
      fastest = std::max(fastest, rate_[i]);
      end_[i] = whole_[i][0] * x0_[i] + h_ * whole_[i][1] * n0_[i];  // (9)
    }
    look(system, end_, nb_);
    double worst = 0;
    for (std::size_t i = 0; i < states_; ++i) {
      const double bend = std::abs(nb_[i] - n0_[i]), size = std::max(std::abs(nb_[i]), std::abs(n0_[i]));
      if (bend == 0) continue;
      const double second = std::min(1.0, h_ * fastest + bend / size) / 3;
      worst = std::max(worst, h_ * whole_[i][2] * bend * second / s_.tolerances[i]);
    }
    if (!(worst <= 1)) return false;
    for (std::size_t i = 0; i < s_.size; ++i) c_[i] = {n0_[i], nb_[i] - n0_[i]};
    const double energy = end(system);  // (10)
    if (!(defect(energy) <= 1)) return false;
    energy_ = energy;
    read_decay(system);
    return true;
  }

  /// For the next length where an event is due in the step's middle: down from the length of a night in few trials, and
  /// then up to the time at which it was due.
  double before_due() {
    due_time_ = t0_ + h_ / 2;
    return h_ > 1 ? 0.125 : 0.5;
  }

  /// (5); remembers whose error was the largest.
  double judge_error() {
    double worst = 0;
    for (std::size_t i = 0; i < states_; ++i) {
      const double error = h_ * (4 * whole_[i][3] - whole_[i][2]) * (n0_[i] - 2 * na_[i] + nb_[i]);
      if (std::abs(error) <= worst * tolerances_[i]) continue;
      worst = std::abs(error) / tolerances_[i];
      suspect_ = i;
    }
    return safety / std::cbrt(worst);
  }

  /// The polynomial of (8).
  void correct(StepSystem& system) {
    static const std::array<Nodes, terms> basis = lobatto_basis();
    for (std::size_t j = 1; j + 1 < terms; ++j) {
      interpolate(lobatto[j], point_);
      look(system, point_, inner_[j]);
      due_ = due_ || due_inside(system);
    }
    for (std::size_t i = 0; i < s_.size; ++i) {
      const Nodes n = {n0_[i], inner_[1][i], inner_[2][i], inner_[3][i], end_n(i)};
      c_[i] = {};
      for (std::size_t j = 0; j < terms; ++j) {
        for (std::size_t k = 0; k < terms; ++k) c_[i][k] += n[j] * basis[j][k];
      }
    }
  }

  /// The share of this step in which what is furthest from its rest, and relaxes within the step, has relaxed.
  double to_relax() const {
    double furthest = 0, factor = 1;
    for (std::size_t i = 0; i < states_; ++i) {
      if (rate_[i] * h_ <= first_stretch) continue;
      const double away = std::abs(f0_[i]) / (rate_[i] * s_.scales[i]);
      if (away <= furthest) continue;
      furthest = away;
      factor = first_stretch / (rate_[i] * h_);
    }
    return factor;
  }

  /// Takes the polynomial's end as the step's; the stored energy there.
  double end(StepSystem& system) {
    interpolate(1, x1_);
    slopes(system, x1_, f1_);
    return system.stored_energy();
  }

  /// N at x.
  void look(StepSystem& system, const Vector& x, Vector& n) {
    slopes(system, x, n);
    for (std::size_t i = 0; i < states_; ++i) n[i] += rate_[i] * x[i];
  }
  double end_n(std::size_t i) const { return i < states_ ? f1_[i] + rate_[i] * x1_[i] : f1_[i]; }
  bool due_inside(const StepSystem& system) const { return h_ > shortest_watched && system.due(); }

  void interpolate(double s, Vector& x) const {
    for (std::size_t i = 0; i < s_.size; ++i) {
      const Phi p = i >= states_ ? phi_of_zero : s == 1 ? whole_[i] : phi(s * z_[i]);
      const Nodes& c = c_[i];
      const double sum =
          p[1] * c[0] + s * (p[2] * c[1] + s * (2 * p[3] * c[2] + s * (6 * p[4] * c[3] + s * 24 * p[5] * c[4])));
      x[i] = p[0] * x0_[i] + s * h_ * sum;  // (3)
    }
  }

  /// (7) of the step in units of what it may be.
  double defect(double energy) const {
    const double allowed = s_.energy_tolerance * (gained(s_.throughput) + energy_scale_) + rounding * std::abs(energy);
    return std::abs(energy - energy_ - gained(s_.stored)) / allowed;
  }
  double gained(const std::vector<std::size_t>& flows) const {
    double sum = 0;
    for (const std::size_t i : flows) sum += x1_[i] - x0_[i];
    return sum;
  }

  const StepperSettings s_;
  const std::size_t states_;
  Vector tolerances_;                       ///< of the second-order result
  Vector rate_, z_;                         ///< lambda, -lambda h
  std::vector<Phi> whole_;                  ///< at z
  std::vector<char> suspected_, measured_;  ///< whether lambda has been, and from now on is measured
  std::vector<Nodes> c_;                    ///< of the dense output
  Vector x0_, x1_, f0_, f1_;                ///< the step's ends, and the slopes there
  Vector n0_, na_, nb_, point_, end_;
  Modes modes_;                 ///< in which all of the above are led
  int modes_since_ = 0;         ///< steps since they were last looked for
  Vector states_at_, reached_;  ///< as states: where the system is looked at, and x1
  Vector jacobian_;
  std::array<Vector, terms> inner_;
  std::size_t suspect_ = 0;  ///< the state whose error made the trial fail; states_ where none did
  bool due_ = false;         ///< an event is due at one of the inner nodes
  double due_time_ = 0;      ///< an event was due there, seen from the middle of a step that was too long
  double t0_ = 0, t1_ = 0, h_ = 0, next_ = 0, energy_ = 0;
  double energy_scale_ = 0;  ///< J, beside the step's throughput
  double uncut_ = 0;         ///< length of the step that was cut to end at a stop; 0 for none
  bool known_ = false;
  bool is_measured_ = false;  ///< any lambda
};

}  // namespace

std::unique_ptr<Stepper> make_phase_stepper(const StepperSettings& s) { return std::make_unique<PhaseStepper>(s); }

}  // namespace overwinter
