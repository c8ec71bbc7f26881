#include "sim/engine/hiccup.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace overwinter {

namespace {

constexpr Tick window = 600 * ticks_per_second;
constexpr std::size_t kept = 4 * longest_turn;  // turns
constexpr std::size_t fewest_repeating = 4;     // turns
constexpr std::size_t fewest_turns = 4;         // that tell what kinds there are
constexpr std::size_t first_simulated = 24;     // failures of every loop
// Before and after, relative: a state's rate, the length of turns taken for the same.
constexpr double rate_alike = 0.2, same_time = 0.05;
// What a decaying state may change at once, of itself or of its scale: what it dissipates is integrated by (2).
constexpr double relaxes = 0.5, trifle = 0.02;
// Of a state's scale: what an unlike rate may do over a leap, how far one turn may lead a state in (3).
constexpr double negligible = 1e-4, furthest = 5e-5, onward = 1e-3;
constexpr double patience = 400;  // turns of a weather interval, after which furthest grows with their number
// The same for all that follows: how far it may stand from where it would have come to.
constexpr double stands = 0.03;
constexpr double growth = 2;  // of the turns that one stands for
constexpr double none = 0;

double seconds(Tick t) { return static_cast<double>(t) / static_cast<double>(ticks_per_second); }

Tick ticks(double turns, Tick length) { return static_cast<Tick>(std::llround(turns * static_cast<double>(length))); }

bool alike(double before, double after, double likeness) {
  return std::abs(after - before) <= likeness * std::max(std::abs(before), std::abs(after));
}

/// (1)
double relaxed_by(double step, double lambda, double t, double d) {
  return step * std::exp(-lambda * t) * std::expm1(-lambda * d) / std::expm1(-lambda * t);
}

/// X of (4), of state i.
double held_at(const Context& c, std::size_t i, double lambda) {
  double sum = 0, time = 0;
  for (const auto& turn : c.turns) {
    const double t = seconds(turn->length);
    if (t <= 0) continue;
    sum += t * (turn->begin->state[i] - turn->step[i] / std::expm1(-lambda * t));
    time += t;
  }
  return sum / time;
}

bool same_way(const Turn& a, const Turn& b) {
  return std::equal(a.events.begin(), a.events.end(), b.events.begin(), b.events.end(),
                    [](const CycleEvent& x, const CycleEvent& y) { return x.part == y.part && x.event == y.event; });
}

/// Whether the last k turns are those before them, so many times in all.
bool repeats(const Context& c, std::size_t k, std::size_t times) {
  const std::size_t n = c.turns.size();
  if (k * times > n) return false;
  for (std::size_t i = n - k * (times - 1); i < n; ++i) {
    if (!same_way(*c.turns[i], *c.turns[i - k])) return false;
  }
  Tick now = 0, before = 0;
  for (std::size_t i = n - k; i < n; ++i) {
    now += c.turns[i]->length;
    before += c.turns[i - k]->length;
  }
  return now > 0 && alike(seconds(before), seconds(now), same_time);
}

void mark(Context& c) {
  c.failure = std::make_shared<const FailureMark>(FailureMark{c.now, c.interval, c.state, c.alarm, c.events});
  c.since.clear();
}

/// The latest turn, as it ends with the present failure.
Turn turn_of(Context& c) {
  const FailureMark& begin = *c.failure;
  Turn turn{c.failure, c.now - begin.at, c.state, {}, std::move(c.since), c.events - begin.events};
  for (std::size_t i = 0; i < c.state.size(); ++i) turn.step[i] -= begin.state[i];
  for (std::size_t i = 0; i < c.alarm.size(); ++i) turn.moved.push_back(c.alarm[i] != begin.alarm[i] ? 1 : 0);
  return turn;
}

/// By how much of their scale the states that follow go on a turn, at most: for each the least that any of the latest
/// turns of the same kind tells. A store that runs down does so in every turn; what only varies comes back.
double drift_of(const Context& c, const Turn& latest, const StateTraits& traits) {
  const std::size_t n = c.turns.size();
  std::vector<double> least(traits.scale.size(), std::numeric_limits<double>::infinity());
  for (std::size_t ago = 1; ago <= n; ++ago) {
    if (!same_way(latest, *c.turns[n - ago])) continue;
    const std::vector<double>& then = (ago > 1 ? *c.turns[n - ago + 1] : latest).begin->state;
    for (std::size_t i = 0; i < least.size(); ++i) {
      least[i] = std::min(least[i], std::abs(c.state[i] - then[i]) / (traits.scale[i] * static_cast<double>(ago)));
    }
  }
  double most = 0;
  for (std::size_t i = 0; i < least.size(); ++i) {
    if (traits.follows[i] && !std::isinf(least[i])) most = std::max(most, least[i]);
  }
  return most;
}

/// For so many turns the states that follow may be taken to stand where they are.
double standing(const Context& c, std::size_t turns) {
  double most = 0;
  for (std::size_t i = c.turns.size() - turns; i < c.turns.size(); ++i) most = std::max(most, c.turns[i]->drift);
  return most > 0 ? stands / most : std::numeric_limits<double>::infinity();
}

void move_alarms(Context& c, const Stretch& stretch, Tick time) {
  for (std::size_t i = 0; i < c.alarm.size(); ++i) {
    if (stretch.moves[i]) c.alarm[i] += time;
  }
}

}  // namespace

bool follow_failures(Context& c, const CycleEvent& happened, const Event& event) {
  const bool failed = event.role == EventRole::cut || event.role == EventRole::brown_out;
  if (event.role == EventRole::wake_completed) c.in_vain = 0;
  if (event.role == EventRole::wake_completed || event.role == EventRole::alarm_due) {
    c.asked = event.role == EventRole::alarm_due;
    c.failure.reset();
  } else if (event.role != EventRole::none && event.reset && c.failure) {
    c.since.push_back(happened);
  }
  return failed;
}

void begin_turns(Context& c) {
  c.turns.clear();
  mark(c);
}

bool note_failure(Context& c, const StateTraits& traits) {
  ++c.in_vain;
  const bool follows = c.failure && c.now - c.failure->at <= window;
  if (!follows || c.failure->interval != c.interval) {
    if (!follows) c.leap = never;
    c.turns_wanted = follows ? std::min(c.turns_wanted, fewest_repeating) : fewest_repeating;
    c.share = 1;
    c.turns_seen = 0;
    begin_turns(c);
    return false;
  }
  Turn turn = turn_of(c);
  turn.drift = drift_of(c, turn, traits);
  if (c.turns.size() == kept) c.turns.erase(c.turns.begin());
  c.turns.push_back(std::make_shared<const Turn>(std::move(turn)));
  ++c.turns_seen;
  mark(c);
  return c.turns.size() > 1 && c.in_vain >= first_simulated;
}

std::size_t repeating(const Context& c) {
  for (std::size_t k = 1; k <= longest_turn; ++k) {
    if (repeats(c, k, std::max<std::size_t>(2, (c.turns_wanted + k - 1) / k))) return k;
  }
  return 0;
}

void want_more_turns(Context& c) { c.turns_wanted = std::clamp(2 * c.turns_wanted, fewest_repeating, kept); }

Stretch latest_turns(const Context& c, std::size_t count) {
  Stretch s;
  s.step.assign(c.state.size(), 0.0);
  s.moves.assign(c.alarm.size(), 0);
  for (auto turn = c.turns.end() - static_cast<std::ptrdiff_t>(count); turn != c.turns.end(); ++turn) {
    const Turn& t = **turn;
    s.length += t.length;
    s.happened += t.happened;
    s.events.insert(s.events.end(), t.events.begin(), t.events.end());
    for (std::size_t i = 0; i < c.state.size(); ++i) s.step[i] += t.step[i];
    for (std::size_t i = 0; i < c.alarm.size(); ++i) s.moves[i] |= t.moved[i];
  }
  for (std::size_t i = 0; i < c.alarm.size(); ++i) {
    if (!s.moves[i]) s.bound = std::min(s.bound, c.alarm[i]);
    if (c.alarm[i] == never) s.moves[i] = 0;
  }
  return s;
}

bool goes_on(const Context& c, const Context& before, std::size_t k) {
  const std::size_t n = before.turns.size() - k;
  for (std::size_t i = 0; i < c.turns.size(); ++i) {
    if (!same_way(*c.turns[i], *before.turns[n + i % k])) return false;
  }
  return true;
}

Tick longest_leap(const Context& c, std::size_t k) {
  Tick length = 0;
  for (std::size_t i = c.turns.size() - k; i < c.turns.size(); ++i) length += c.turns[i]->length;
  const double time = standing(c, k) / static_cast<double>(k) * static_cast<double>(length);
  return time < static_cast<double>(window) * 1e6 ? static_cast<Tick>(time) : never;
}

Context step_over(const Context& c, const Stretch& stretch, Tick time, const StateTraits& traits) {
  Context ahead = c;
  const double d = seconds(time), t = seconds(stretch.length);
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    const bool slow = i < traits.scale.size();
    if (slow && traits.follows[i]) continue;
    const double lambda = slow ? traits.decay[i] : none;
    ahead.state[i] += lambda > 0 ? relaxed_by(stretch.step[i], lambda, t, d) : stretch.step[i] * d / t;
  }
  ahead.now += time;
  move_alarms(ahead, stretch, time);
  begin_turns(ahead);
  return ahead;
}

bool correct_step(Context& behind, const Context& ahead, const Stretch& before, const Stretch& after, Tick time,
                  const StateTraits& traits) {
  const double d = seconds(time), t = seconds(before.length), t_after = seconds(after.length);
  const std::size_t slow = traits.scale.size();
  for (std::size_t i = 0; i < slow; ++i) {
    if (traits.follows[i]) continue;
    if (traits.decay[i] > 0) {
      const double change = relaxed_by(before.step[i], traits.decay[i], t, d), from = ahead.state[i] - change;
      if (std::abs(change) > trifle * traits.scale[i] && !alike(from, ahead.state[i], relaxes)) return false;
      continue;
    }
    const double rate = before.step[i] / t, rate_after = after.step[i] / t_after;
    if (!alike(rate, rate_after, rate_alike) && d * std::abs(rate_after - rate) > negligible * traits.scale[i]) {
      return false;
    }
  }
  for (std::size_t i = 0; i < behind.state.size(); ++i) {
    if (i < slow && (traits.follows[i] || traits.decay[i] > 0)) continue;
    behind.state[i] += d / 2 * (after.step[i] / t_after - before.step[i] / t);  // (2)
  }
  return true;
}

void go_on(Context& behind, std::size_t k) {
  behind.turns.erase(behind.turns.begin(), behind.turns.end() - static_cast<std::ptrdiff_t>(k));
  behind.turns_wanted = 0;
  mark(behind);
}

double share_of(const Context& c, Tick end, const StateTraits& traits) {
  if (c.turns.size() < fewest_turns) return none;
  const double loosened = std::max(1.0, static_cast<double>(c.turns_seen) / patience);
  Tick longest = 1;
  for (const auto& turn : c.turns) longest = std::max(longest, turn->length);
  double n = std::min({growth * c.share, seconds(end - c.now) / seconds(longest) / growth,
                       standing(c, std::min(c.turns.size(), longest_turn))});
  for (std::size_t i = 0; i < traits.scale.size(); ++i) {
    if (traits.follows[i]) continue;
    const double lambda = traits.decay[i];
    if (lambda > 0) {
      const double held = held_at(c, i, lambda), may = trifle * traits.scale[i];
      double change = 0;
      for (const auto& turn : c.turns) change = std::max(change, std::abs(held - turn->begin->state[i]));
      if (change > may) n = std::min(n, -std::log1p(-may / change) / (lambda * seconds(longest)));
      continue;
    }
    double sum = 0, time = 0, off = 0;
    for (const auto& turn : c.turns) {
      sum += turn->step[i];
      time += seconds(turn->length);
    }
    const double rate = time > 0 ? sum / time : 0;
    for (const auto& turn : c.turns) off = std::max(off, std::abs(turn->step[i] - rate * seconds(turn->length)));
    if (off > 0) n = std::min(n, loosened * furthest * traits.scale[i] / off);
    if (rate != 0) n = std::min(n, onward * traits.scale[i] / (std::abs(rate) * seconds(longest)));
  }
  return n;
}

Context spread(const Context& c, double n, const Stretch& kinds, const StateTraits& traits) {
  const Turn& turn = *c.turns.back();
  Context ahead = c;
  const Tick time = ticks(n, turn.length);
  for (std::size_t i = 0; i < c.state.size(); ++i) {
    const bool slow = i < traits.scale.size();
    if (slow && traits.follows[i]) continue;
    const double lambda = slow ? traits.decay[i] : none;
    ahead.state[i] += lambda > 0 ? (c.state[i] - held_at(c, i, lambda)) * std::expm1(-lambda * seconds(time))  // (4)
                                 : n * turn.step[i];                                                           // (3)
  }
  ahead.now += time;
  move_alarms(ahead, kinds, time);
  ahead.share = n;
  mark(ahead);
  return ahead;
}

}  // namespace overwinter
