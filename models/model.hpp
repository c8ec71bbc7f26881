// What every component model gives the engine.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "models/dual.hpp"
#include "models/light/sky.hpp"
#include "models/units.hpp"

namespace overwinter {

struct ModelTable;

/// Time: integer nanoseconds since 1970-01-01 00:00 UTC (leap seconds ignored), good until the year 2262.
using Tick = std::int64_t;
inline constexpr Tick ticks_per_second = 1'000'000'000;
inline constexpr Tick ticks_per_day = 86'400 * ticks_per_second;
inline constexpr Tick never = INT64_MAX;

/// An instant with the site's standard-time offset, for parts that follow the clock on the wall.
struct Moment {
  Tick utc = 0;
  Tick offset = 0;
  /// Since the last midnight of the site's standard time, 0 <= result < one day.
  Tick time_of_day() const {
    const Tick t = (utc + offset) % ticks_per_day;
    return t < 0 ? t + ticks_per_day : t;
  }
};

/// One part's share of the whole system, read only. Arrays follow the order of the model's table; values are SI.
struct View {
  const double* z = nullptr;             ///< pin voltages against ground, then internal unknowns
  const double* x = nullptr;             ///< slow states
  const std::int32_t* memory = nullptr;  ///< discrete memory
  const double* drive = nullptr;         ///< what Model::drive derived from the interval's weather
  const double* held = nullptr;          ///< what Model::hold derived from all of the above but z
  const double* line = nullptr;  ///< line inputs, each as wide as its kind; not a number where none is connected
  bool transient = false;        ///< the fast stores are integrated instead of being taken for settled
};

/// What an event's reset may write: its own part only.
struct Writable {
  double* x;
  std::int32_t* memory;
  Tick* alarm;  ///< the part's alarms in the table's order; null for a part without one
  Moment now;
};

/// Immutable physics of one part: parameters and equations, no files, no clock, no state.
///
/// Sign convention: the current at a pin is positive when it flows into the part.
class Model {
 public:
  virtual ~Model() = default;
  virtual const ModelTable& table() const = 0;

  /// Numbers derived once per weather interval.
  virtual void drive(const Ambient&, double* /*drive*/) const {}
  /// Initial states, memory and alarm at the start of the span.
  virtual void start(const Ambient&, Writable&) const {}

  /// Whether the part, as it is parametrised, can be in that memory: one that is kept in a file may be of another.
  virtual bool can_be_in(const std::int32_t* /*memory*/) const { return true; }

  /// Numbers that the equations need and that do not change while the network is solved: derived from states, memory,
  /// drive and lines.
  virtual void hold(const View&, double* /*held*/) const {}
  /// f = the current into each pin (A), then the residual of each internal unknown.
  virtual void evaluate(const View&, double* f) const = 0;
  /// The same with the Jacobian df/dz, row-major, (pins + unknowns) square.
  virtual void linearise(const View&, double* f, double* jacobian) const = 0;
  /// A plausible z for a cold start of the network solve; called only when there is no earlier solution.
  virtual void guess(const View&, double* /*z*/) const {}

  /// View::transient begins to hold, and ceases to: sets the part's fast states to what the settled network says, and
  /// takes them back. The view is that of the time before. `booked` as in take_over().
  virtual void enter_transient(const View&, Writable&, double* /*booked*/) const {}
  virtual void leave_transient(const View&, Writable&) const {}

  /// Time derivative of each state, at a solved network.
  virtual void rates(const View&, double* /*dxdt*/) const {}
  /// The linear decay rate (1/s, >= 0) that each state's own equation contains in closed form: dx/dt = -rate x + N.
  /// An exponential stepper solves that part exactly; the network's answer to the state belongs to N. Zero where the
  /// equation has no such part: they are all zero beforehand.
  virtual void decay(const View&, double* /*rate*/) const {}
  /// The value of each flow, at a solved network.
  virtual void flows(const View&, double* flow) const = 0;
  /// Energy in the part's stores in closed form (J), counted from an arbitrary but fixed zero.
  virtual double stored_energy(const View&) const { return 0; }

  /// The part goes on as this model in place of `former`, one of the same class with other parameters: a fault begins
  /// or ends. States and memory of the view are those before; z is not to be used. May write the part's states, memory
  /// and alarms. `booked`, one number per flow (J or C), zero beforehand: what goes into the flows' integrals at this
  /// instant, so that they account for stored energy that comes or goes.
  virtual void take_over(const Model& /*former*/, const View&, Writable&, double* /*booked*/) const {}

  /// The part where others of its class stand on the same nets, pin by pin: a model that knows of them, or null where
  /// the part does not change by that. `all` in part order, at least two, this one at `self`.
  virtual std::shared_ptr<const Model> in_parallel(const std::vector<const Model*>& /*all*/,
                                                   std::size_t /*self*/) const {
    return nullptr;
  }

  /// Values that were taken from the part's class because the datasheet does not give them, for the run to report.
  virtual std::vector<std::string> assumptions() const { return {}; }
};

/// Implements evaluate() and linearise() from one template in Derived:
///   template <class T> void equations(const View&, const T* z, T* f) const;
template <class Derived, int Pins, int Unknowns>
class NetworkModel : public Model {
 public:
  static constexpr int width = Pins + Unknowns;

  void evaluate(const View& view, double* f) const final { self().template equations<double>(view, view.z, f); }

  void linearise(const View& view, double* f, double* jacobian) const final {
    using D = Dual<width>;
    std::array<D, width> z, r;
    for (int i = 0; i < width; ++i) z[static_cast<std::size_t>(i)] = D::variable(view.z[i], i);
    self().template equations<D>(view, z.data(), r.data());
    for (int i = 0; i < width; ++i) {
      const D& row = r[static_cast<std::size_t>(i)];
      f[i] = row.value;
      for (int j = 0; j < width; ++j) jacobian[i * width + j] = row.slope[static_cast<std::size_t>(j)];
    }
  }

 private:
  const Derived& self() const { return static_cast<const Derived&>(*this); }
};

}  // namespace overwinter
