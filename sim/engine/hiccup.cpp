#include "sim/engine/hiccup.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

namespace overwinter {

namespace {

constexpr Tick window = 600 * ticks_per_second;
// Before and after, relative: a state's rate, how often an event comes, the length of stretches taken for the same.
constexpr double rate_alike = 0.2, often_alike = 0.5, same_time = 0.02;
// What a decaying state may change in a leap, of itself or of its scale: what it dissipates is integrated by (2).
constexpr double relaxes = 0.5, trifle = 0.02;
constexpr double by_chance = 1.5;  // events more or less in a stretch
// Of a state's scale, over the whole leap: what an unlike rate may do, how far a sliding state may be led astray.
constexpr double negligible = 1e-3, sliding = 3e-3;

double seconds(Tick t) { return static_cast<double>(t) / static_cast<double>(ticks_per_second); }

bool alike(double before, double after, double likeness) {
  return std::abs(after - before) <= likeness * std::max(std::abs(before), std::abs(after));
}

/// (1)
double relaxed_by(double step, double lambda, double t, double d) {
  return step * std::exp(-lambda * t) * std::expm1(-lambda * d) / std::expm1(-lambda * t);
}

void add_to_drift(Context& c) {
  const double t = seconds(c.now - c.stretch->at);
  DriftSums& sums = c.drift;
  sums.n += 1;
  sums.t += t;
  sums.tt += t * t;
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    const double x = c.state[i] - c.stretch->state[i];
    sums.x[i] += x;
    sums.tx[i] += t * x;
  }
}

}  // namespace

bool follow_failures(Context& c, const CycleEvent& happened, const Event& event) {
  const bool failed = event.role == EventRole::cut || event.role == EventRole::brown_out;
  if (event.role == EventRole::wake_completed) c.in_vain = 0;
  if (event.role == EventRole::wake_completed || event.role == EventRole::alarm_due) {
    c.stretch.reset();
  } else if (event.role != EventRole::none && event.reset && c.stretch) {
    c.since.push_back(happened);
  }
  return failed;
}

void begin_stretch(Context& c, std::size_t failures_wanted, std::size_t settling) {
  c.stretch = std::make_shared<StretchBegin>(StretchBegin{c.now, c.interval, c.state, c.alarm, c.events});
  c.settling = settling;
  c.failures = 0;
  c.failures_wanted = failures_wanted;
  c.last_failure = c.now;
  c.since.clear();
  c.drift = {};
  c.drift.x.resize(c.state.size());
  c.drift.tx.resize(c.state.size());
  add_to_drift(c);
}

bool note_failure(Context& c) {
  if (c.looked_at_in != c.interval) c.looked_at = 0;
  c.looked_at_in = c.interval;
  ++c.looked_at;
  ++c.in_vain;
  if (!c.stretch || c.stretch->interval != c.interval || c.now - c.last_failure > window) {
    if (!c.stretch || c.now - c.last_failure > window) c.leap = never;
    begin_stretch(c, std::max(c.failures_wanted / 2, shortest_stretch), 0);
    return false;
  }
  c.last_failure = c.now;
  if (c.settling > 0) {
    if (--c.settling == 0) begin_stretch(c, c.failures_wanted, 0);
    return false;
  }
  add_to_drift(c);
  return ++c.failures >= c.failures_wanted && c.now > c.stretch->at;
}

void try_longer_stretch(Context& c) {
  c.failures_wanted *= 2;
  if (c.failures_wanted <= longest_stretch) return;
  begin_stretch(c, shortest_stretch, longest_stretch);
}

Stretch present_stretch(const Context& c) {
  const StretchBegin& first = *c.stretch;
  Stretch s;
  s.length = c.now - first.at;
  for (std::size_t i = 0; i < c.alarm.size(); ++i) {
    const bool stands = c.alarm[i] == first.alarm[i];
    if (stands) s.bound = std::min(s.bound, c.alarm[i]);
    s.moves.push_back(!stands && c.alarm[i] != never ? 1 : 0);
  }
  const DriftSums& sums = c.drift;
  const double scatter = sums.n * sums.tt - sums.t * sums.t;
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    s.step.push_back(seconds(s.length) * (sums.n * sums.tx[i] - sums.t * sums.x[i]) / scatter);
  }
  s.events = c.since;
  return s;
}

Context step_over(const Context& c, const Stretch& stretch, Tick time, const StateTraits& traits) {
  Context ahead = c;
  const double d = seconds(time), t = seconds(stretch.length);
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    const bool slow = i < traits.scale.size();
    if (slow && traits.follows[i]) continue;
    const double lambda = slow ? traits.decay[i] : 0.0;
    ahead.state[i] += lambda > 0 ? relaxed_by(stretch.step[i], lambda, t, d) : stretch.step[i] * d / t;
  }
  ahead.now += time;
  for (std::size_t i = 0; i < c.alarm.size(); ++i) {
    if (stretch.moves[i]) ahead.alarm[i] += time;
  }
  begin_stretch(ahead, c.failures_wanted, c.failures_wanted / 2);
  return ahead;
}

Tick sliding_time(const Stretch& stretch, const StateTraits& traits) {
  double shortest = 1e9;  // s
  for (std::size_t i = 0; i < traits.scale.size(); ++i) {
    if (traits.follows[i] || traits.decay[i] > 0 || stretch.step[i] == 0) continue;
    const double rate = std::abs(stretch.step[i]) / seconds(stretch.length);
    shortest = std::min(shortest, sliding * traits.scale[i] / rate);
  }
  return static_cast<Tick>(shortest * 0.99 * static_cast<double>(ticks_per_second));
}

bool events_alike(const Stretch& before, const Stretch& after) {
  std::map<std::pair<std::size_t, std::size_t>, std::array<double, 2>> times;
  for (const CycleEvent& e : before.events) times[{e.part, e.event}][0] += 1;
  for (const CycleEvent& e : after.events) times[{e.part, e.event}][1] += 1;
  const double longer = seconds(after.length) / seconds(before.length);
  return std::all_of(times.begin(), times.end(), [longer](const auto& kind) {
    const double expected = kind.second[0] * longer, found = kind.second[1];
    return alike(expected, found, often_alike) || std::abs(found - expected) <= by_chance;
  });
}

bool same_events(const Stretch& before, const Stretch& after) {
  return std::equal(before.events.begin(), before.events.end(), after.events.begin(), after.events.end(),
                    [](const CycleEvent& a, const CycleEvent& b) { return a.part == b.part && a.event == b.event; }) &&
         alike(seconds(before.length), seconds(after.length), same_time);
}

std::optional<double> correct_step(Context& ahead, const Stretch& before, const Stretch& after, Tick time,
                                   const StateTraits& traits, bool strictly) {
  const double d = seconds(time), t = seconds(before.length), t_after = seconds(after.length);
  const std::size_t slow = traits.scale.size();
  if (strictly && !events_alike(before, after)) return std::nullopt;
  double p = 1, largest_change = 0;
  for (std::size_t i = 0; i < slow; ++i) {
    if (traits.follows[i]) continue;
    if (traits.decay[i] > 0) {
      const double change = relaxed_by(before.step[i], traits.decay[i], t, d), from = ahead.state[i] - change;
      if (std::abs(change) > trifle * traits.scale[i] && !alike(from, ahead.state[i], relaxes)) return std::nullopt;
      continue;
    }
    const double rate = before.step[i] / t, rate_after = after.step[i] / t_after;
    const double change = d * std::abs(rate_after - rate) / traits.scale[i];
    const bool slides = rate * (rate - rate_after) > 0 && d * std::abs(rate) <= sliding * traits.scale[i];
    if (!alike(rate, rate_after, rate_alike) && !(change <= negligible) && !slides) return std::nullopt;
    if (change <= largest_change) continue;
    largest_change = change;
    p = slides ? rate_after / rate : 1;
  }
  const double q = 1 - p;
  const double w = std::abs(q) < 1e-4 ? 0.5 : (1 + std::expm1(-q) / q) / q;  // (3)

  for (std::size_t i = 0; i < ahead.state.size(); ++i) {
    if (i < slow && (traits.follows[i] || traits.decay[i] > 0)) continue;
    ahead.state[i] += d * w * (after.step[i] / t_after - before.step[i] / t);  // (2)
  }
  begin_stretch(ahead, ahead.failures_wanted, ahead.failures_wanted / 2);
  return w;
}

}  // namespace overwinter
