#include "sim/engine/microscope.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/engine/transient.hpp"

namespace overwinter {

namespace {

constexpr Tick look = ticks_per_second / 500;           // between looks at whether anything moves
constexpr Tick longest = ticks_per_second / 5;          // of a transient
constexpr Tick soon = ticks_per_second / 100;           // an alarm so near belongs to it
constexpr double at_rest = 2e-4;                        // s, of a step
constexpr double sound = 5e-3, caution = 1.5;           // V and factor of (1)
constexpr double same_input = 0.25;                     // V, of a margin
constexpr double same_power = 0.1, least_power = 1e-3;  // share, W
constexpr double same_charge = 0.2;                     // share

bool near(double a, double b, double share, double least) {
  return std::abs(a - b) <= least + share * std::max(std::abs(a), std::abs(b));
}

bool alike(const Instant& a, const Instant& b) {
  return std::equal(a.events.begin(), a.events.end(), b.events.begin(), b.events.end(),
                    [](const CycleEvent& x, const CycleEvent& y) { return x.part == y.part && x.event == y.event; }) &&
         std::equal(a.delivered.begin(), a.delivered.end(), b.delivered.begin(), b.delivered.end(),
                    [](double x, double y) { return near(x, y, same_power, least_power); }) &&
         near(a.missing_charge, b.missing_charge, same_charge, notable_charge) && a.worst.size() == b.worst.size();
}

bool sound_by(const SoundInstant& then, const Instant& now) {
  if (!alike(then.instant, now)) return false;
  for (std::size_t i = 0; i < now.worst.size(); ++i) {
    const WorstCase &before = then.instant.worst[i], &here = now.worst[i];
    if (before.part != here.part || before.margin != here.margin) return false;
    if (std::isinf(before.value) && std::isinf(here.value)) continue;
    if (!(std::abs(before.value - here.value) <= same_input)) return false;
  }
  double worse = 0;
  for (std::size_t i = 0; i < now.worst.size(); ++i) {
    if (std::isfinite(now.worst[i].value)) worse = std::max(worse, then.instant.worst[i].value - now.worst[i].value);
  }
  return std::all_of(then.least.begin(), then.least.end(),
                     [worse](double least) { return least - caution * worse >= sound; });  // (1)
}

}  // namespace

bool is_thin(const Instant& instant) {
  return instant.missing_charge >= notable_charge ||
         std::any_of(instant.worst.begin(), instant.worst.end(),
                     [](const WorstCase& w) { return w.value < thin_margin; });
}

const SoundInstant* known_sound(const Instant& instant, const SoundInstants* known) {
  if (!known) return nullptr;
  const auto one =
      std::find_if(known->rbegin(), known->rend(), [&](const auto& then) { return sound_by(*then, instant); });
  return one == known->rend() ? nullptr : one->get();
}

/// Notes what a transient comes to, and passes everything on.
class Microscope::Probe final : public RunWatcher {
 public:
  explicit Probe(const Diagram& diagram) : diagram_(diagram) {}

  void begin(Tick now, RunWatcher* next) {
    next_ = next;
    failed = false;
    last_event = now;
    least.clear();
    for (const DiagramPart& part : diagram_.parts())
      least.insert(least.end(), part.table->margins.size(), std::numeric_limits<double>::infinity());
  }
  void on_step(Tick t, const double* state, Evaluator& system) override {
    std::size_t i = 0;
    for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
      const DiagramPart& part = diagram_.parts()[p];
      for (const Margin& m : part.table->margins) {
        least[i] = std::min(least[i], m.value(system.model(p), system.view(p)));
        ++i;
      }
    }
    if (next_) next_->on_step(t, state, system);
  }
  void on_sample(Tick t, const double* state, Evaluator& system) override {
    if (next_) next_->on_sample(t, state, system);
  }
  void on_happening(const Happening& h, const double* state, Evaluator& system) override {
    const EventRole role = h.event ? h.event->role : EventRole::none;
    failed = failed || role == EventRole::cut || role == EventRole::brown_out;
    last_event = h.time;
    if (next_) next_->on_happening(h, state, system);
  }

  bool failed = false;
  Tick last_event = 0;
  std::vector<double> least;

 private:
  const Diagram& diagram_;
  RunWatcher* next_ = nullptr;
};

Microscope::Microscope(const Diagram& diagram, const Weather& weather, const SimulatorOptions& settled)
    : diagram_(diagram),
      probe_(std::make_unique<Probe>(diagram)),
      transient_(std::make_unique<Simulator>(diagram, weather, transient_options(settled), probe_.get())) {}

Microscope::~Microscope() = default;

Microscope::Sight Microscope::follow(Simulator& settled, const Context& moment, bool keep) {
  Simulator& transient = *transient_;
  recording_.clear();
  probe_->begin(moment.now, keep ? &recording_ : nullptr);
  Context c;
  try {
    c = enter_transient(settled, transient, moment);
  } catch (const TransientRefused& refused) {
    return {{}, false, refused.what(), {}};
  }
  const Tick last = std::min(moment.now + longest, transient.undisturbed_until(moment));
  while (c.now < last) {
    transient.advance(c, std::min(last, c.now + look));
    const bool expected = std::any_of(c.alarm.begin(), c.alarm.end(), [&](Tick t) { return t <= c.now + soon; });
    if (!expected && c.now - probe_->last_event >= look && c.step >= at_rest) break;
  }
  return {std::move(c), probe_->failed, {}, probe_->least};
}

void Microscope::tell(const Sight& sight, RunWatcher& watcher) {
  recording_.tell(*transient_, sight.end.period, watcher);
}

Context Microscope::leave(Simulator& settled, const Context& end) { return leave_transient(*transient_, settled, end); }

}  // namespace overwinter
