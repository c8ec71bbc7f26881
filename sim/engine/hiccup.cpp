#include "sim/engine/hiccup.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr Tick window = 600 * ticks_per_second;
constexpr double likeness = 0.2;                     // of the rates before and after, relative
// Of a state's scale, over the whole leap: what an unlike rate may do, how far a sliding state may be led astray, what may
// be made up for.
constexpr double negligible = 1e-3, sliding = 1e-2, made_up = 0.1;

double seconds(Tick t) { return static_cast<double>(t) / static_cast<double>(ticks_per_second); }

bool alike(double before, double after) {
  return std::abs(after - before) <= likeness * std::max(std::abs(before), std::abs(after));
}

std::shared_ptr<const Failure> failure(const Context& c, std::vector<CycleEvent> since) {
  return std::make_shared<Failure>(Failure{c.now, c.interval, c.leaps, c.state, c.alarm, std::move(since)});
}

}  // namespace

bool follow_failures(Context& c, const CycleEvent& happened, const Event& event) {
  const bool failed = event.role == EventRole::cut || event.role == EventRole::brown_out;
  if (event.role == EventRole::wake_completed || event.role == EventRole::alarm_due) {
    c.failures.clear();
    c.since_failure.clear();
  } else if (event.role != EventRole::none && event.reset && (failed || !c.failures.empty())) {
    c.since_failure.push_back(happened);
  }
  return failed;
}

void note_failure(Context& c) {
  if (!c.failures.empty() && c.now - c.failures.back()->at > window) c.failures.clear();
  if (c.failures.size() > Stretch::failures) c.failures.erase(c.failures.begin());
  c.failures.push_back(failure(c, std::move(c.since_failure)));
  c.since_failure.clear();
}

std::optional<Stretch> latest_stretch(const Context& c, std::size_t failures) {
  if (c.failures.size() <= failures) return std::nullopt;
  const Failure &first = *c.failures.front(), &last = *c.failures.back();
  if (first.interval != c.interval || first.leaps != c.leaps || last.at <= first.at) return std::nullopt;
  Stretch s;
  s.length = last.at - first.at;
  for (std::size_t i = 0; i < last.alarm.size(); ++i) {
    const bool stands = last.alarm[i] == first.alarm[i];
    if (stands) s.bound = std::min(s.bound, last.alarm[i]);
    s.moves.push_back(!stands && last.alarm[i] != never ? 1 : 0);
  }
  for (std::size_t i = 0; i < last.state.size(); ++i) s.step.push_back(last.state[i] - first.state[i]);
  for (std::size_t i = 1; i < c.failures.size(); ++i) {
    s.events.insert(s.events.end(), c.failures[i]->since.begin(), c.failures[i]->since.end());
  }
  return s;
}

Context step_over(const Context& c, const Stretch& stretch, Tick time, const StateTraits& traits) {
  Context ahead = c;
  const double d = seconds(time), t = seconds(stretch.length);
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    const bool slow = i < traits.scale.size();
    if (slow && traits.follows[i]) continue;
    const double lambda = slow ? traits.decay[i] : 0.0;
    ahead.state[i] += stretch.step[i] * (lambda > 0 ? std::expm1(-lambda * d) / std::expm1(-lambda * t) : d / t);
  }
  ahead.now += time;
  for (std::size_t i = 0; i < c.alarm.size(); ++i) {
    if (stretch.moves[i]) ahead.alarm[i] += time;
  }
  ++ahead.leaps;
  ahead.failures.assign(1, failure(ahead, {}));
  ahead.since_failure.clear();
  return ahead;
}

bool correct_step(Context& ahead, const Stretch& before, const Stretch& after, Tick time, const StateTraits& traits) {
  const double d = seconds(time), t = seconds(before.length), t_after = seconds(after.length);
  const std::size_t slow = traits.scale.size();
  double p = 1, largest_change = 0;
  for (std::size_t i = 0; i < slow; ++i) {
    if (traits.follows[i] || traits.decay[i] > 0) continue;
    const double rate = before.step[i] / t, rate_after = after.step[i] / t_after;
    const double change = d * std::abs(rate_after - rate) / traits.scale[i];
    const bool slides = rate * (rate - rate_after) > 0 && d * std::abs(rate) <= sliding * traits.scale[i];
    if (!alike(rate, rate_after) && !(change <= negligible) && !slides) return false;
    if (change <= largest_change) continue;
    largest_change = change;
    p = slides ? rate_after / rate : 1;
  }
  const double q = 1 - p;
  const double w = std::abs(q) < 1e-4 ? 0.5 : (1 + std::expm1(-q) / q) / q;  // (3)

  std::vector<double> correction(ahead.state.size());
  for (std::size_t i = 0; i < correction.size(); ++i) {
    if (i < slow && traits.follows[i]) continue;
    if (i < slow && traits.decay[i] > 0) {
      const double lambda = traits.decay[i];
      correction[i] = before.step[i] * std::exp(-lambda * d) / std::expm1(-lambda * t) -
                      after.step[i] / std::expm1(-lambda * t_after);  // (1)
      if (!(std::abs(correction[i]) <= made_up * traits.scale[i])) return false;
    } else {
      correction[i] = d * w * (after.step[i] / t_after - before.step[i] / t);  // (2)
    }
  }
  for (std::size_t i = 0; i < correction.size(); ++i) ahead.state[i] += correction[i];
  ahead.failures.assign(1, failure(ahead, {}));
  return true;
}

}  // namespace overwinter
