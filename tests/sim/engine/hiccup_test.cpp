#include "sim/engine/hiccup.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <utility>

#include "models/table.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second;
constexpr std::size_t first_simulated = 24;  // failures of every loop

/// dx/dt = a - b x, from x at a time: exact.
double relaxed(double x, double a, double b, double seconds) { return a / b + (x - a / b) * std::exp(-b * seconds); }

Event event_of(EventRole role) {
  Event e;
  e.role = role;
  e.reset = [](const Model&, const View&, Writable&) {};
  return e;
}

StateTraits traits(double decay) { return {{decay}, {1000.0}, {0}}; }
/// A slow state and one that follows the network, with scale 1.
StateTraits with_follower() { return {{0.0, 0.0}, {1000.0, 1.0}, {0, 1}}; }

/// One state, one integral, after the first failure of a loop.
Context at_a_failure(double state) {
  Context c;
  c.now = 1000 * second;
  c.state = {state, 0};
  c.alarm = {never};
  begin_turns(c);
  c.in_vain = first_simulated;
  c.turns_wanted = 4;
  return c;
}

/// To the next failure, which such an event of part 0 led to. What note_failure() says.
bool turn(Context& c, double state, double integral, Tick length, std::size_t event, const StateTraits& t) {
  c.now += length;
  c.state = {state, integral};
  follow_failures(c, {c.now, 0, event}, event_of(EventRole::cut));
  return note_failure(c, t);
}

Context after_a_turn(double state_before, double state, double integral, Tick length, const StateTraits& t) {
  Context c = at_a_failure(state_before);
  turn(c, state, integral, length, 1, t);
  return c;
}

/// What a turn made of a state and an integral.
Stretch stretch(double step, double integral, Tick length) { return {length, never, {step, integral}, {0}, {}, 0}; }

}  // namespace

TEST_CASE("hiccup: a turn goes from one failure to the next and keeps the events that play a role") {
  Context c;
  c.state = {0};
  c.alarm = {never};
  const Event cut = event_of(EventRole::cut), came = event_of(EventRole::power_came), none = event_of(EventRole::none);
  CHECK_FALSE(follow_failures(c, {0, 0, 0}, came));
  CHECK(c.since.empty());
  CHECK(follow_failures(c, {0, 0, 1}, cut));
  CHECK_FALSE(note_failure(c, traits(0)));
  for (std::size_t i = 1; i <= 30; ++i) {
    c.now += second;
    CHECK_FALSE(follow_failures(c, {c.now, 0, 2}, none));
    CHECK_FALSE(follow_failures(c, {c.now, 0, 0}, came));
    CHECK(follow_failures(c, {c.now, 0, 1}, cut));
    CHECK(note_failure(c, traits(0)) == (i + 1 >= first_simulated));  // the first of a loop are not stepped over
  }
  const Turn& last = *c.turns.back();
  CHECK(last.length == second);
  CHECK(last.events.size() == 2);
  CHECK(last.events.front().event == 0);
  CHECK(last.events.back().time == c.now);
}

TEST_CASE("hiccup: a completed wake, a due alarm, ten quiet minutes and new weather begin anew") {
  const auto ten_turns = [&] {
    Context c = at_a_failure(0);
    for (int i = 0; i < 10; ++i) turn(c, 0, 0, second, 1, traits(0));
    REQUIRE(c.turns.size() == 10);
    return c;
  };
  for (const EventRole role : {EventRole::wake_completed, EventRole::alarm_due}) {
    Context c = ten_turns();
    follow_failures(c, {c.now, 0, 3}, event_of(role));
    CHECK(static_cast<bool>(c.failure) == false);
    CHECK(c.asked == (role == EventRole::alarm_due));
  }
  Context quiet = ten_turns();
  CHECK_FALSE(turn(quiet, 0, 0, 601 * second, 1, traits(0)));
  CHECK(quiet.turns.empty());
  Context weather = ten_turns();
  ++weather.interval;
  CHECK_FALSE(turn(weather, 0, 0, second, 1, traits(0)));
  CHECK(weather.turns.empty());
  Context neither = ten_turns();
  turn(neither, 0, 0, 599 * second, 1, traits(0));
  CHECK(neither.turns.size() == 11);
}

TEST_CASE("hiccup: turns repeat that have the same events in the same order and in as much time") {
  const auto kinds = [](const std::vector<std::pair<std::size_t, double>>& turns) {
    Context c = at_a_failure(0);
    for (const auto& [event, length] : turns) {
      turn(c, 0, 0, static_cast<Tick>(length * static_cast<double>(second)), event, traits(0));
    }
    return repeating(c);
  };
  CHECK(kinds({{1, 1}, {1, 1}, {1, 1}}) == 0);  // too few
  CHECK(kinds({{1, 1}, {1, 1}, {1, 1}, {1, 1}}) == 1);
  CHECK(kinds({{1, 1}, {1, 1}, {1, 1}, {1, 1.04}}) == 1);
  CHECK(kinds({{1, 1}, {1, 1}, {1, 1}, {1, 1.3}}) == 0);
  CHECK(kinds({{1, 1}, {2, 3}, {1, 1}, {2, 3}}) == 2);
  CHECK(kinds({{1, 1}, {2, 3}, {2, 3}, {1, 1}, {2, 3}, {2, 3}}) == 3);
  CHECK(kinds({{1, 1}, {1, 1}, {2, 3}, {1, 1}, {1, 1}, {1, 1}, {2, 3}}) == 0);
  Context c = at_a_failure(0);
  for (int i = 0; i < 7; ++i) turn(c, 0, 0, second, 1, traits(0));
  CHECK(repeating(c) == 1);
  want_more_turns(c);
  CHECK(repeating(c) == 0);
  turn(c, 0, 0, second, 1, traits(0));
  CHECK(repeating(c) == 1);
}

TEST_CASE("hiccup: after a leap the turns have to go on as they did") {
  Context before = at_a_failure(0), after = at_a_failure(0);
  for (const std::size_t kind : {3, 1, 2}) turn(before, 0, 0, second, kind, traits(0));
  turn(after, 0, 0, second, 1, traits(0));
  CHECK(goes_on(after, before, 2));
  turn(after, 0, 0, second, 2, traits(0));
  turn(after, 0, 0, second, 1, traits(0));
  CHECK(goes_on(after, before, 2));
  CHECK_FALSE(goes_on(after, before, 3));
  turn(after, 0, 0, second, 1, traits(0));
  CHECK_FALSE(goes_on(after, before, 2));
}

TEST_CASE("hiccup (2): with a steady rate the leap is exact, and alarms that come with the failures come along") {
  Context c = at_a_failure(100);
  c.now += 3 * second;
  c.state = {103, 6};
  c.alarm = {c.now + second};
  note_failure(c, traits(0));
  const Stretch before = latest_turns(c, 1);
  CHECK(before.length == 3 * second);
  CHECK(before.bound == never);
  Context ahead = step_over(c, before, 300 * second, traits(0));
  CHECK(ahead.now == c.now + 300 * second);
  CHECK(ahead.alarm[0] == c.alarm[0] + 300 * second);
  CHECK(ahead.state[0] == doctest::Approx(403).epsilon(1e-12));
  CHECK(ahead.state[1] == doctest::Approx(606).epsilon(1e-12));
  CHECK(correct_step(ahead, ahead, before, stretch(4, 8, 4 * second), 300 * second, traits(0)));  // the same rates
  CHECK(ahead.state[0] == doctest::Approx(403).epsilon(1e-12));
  CHECK(ahead.turns.empty());
}

TEST_CASE("hiccup (2): the rates before and after count alike") {
  const Context c = after_a_turn(0, 1, 2, second, traits(0));
  const Stretch before = latest_turns(c, 1);
  Context ahead = step_over(c, before, 100 * second, traits(0));
  REQUIRE(correct_step(ahead, ahead, before, stretch(0.9, 1.8, second), 100 * second, traits(0)));
  CHECK(ahead.state[0] - c.state[0] == doctest::Approx(95).epsilon(1e-12));
  CHECK(ahead.state[1] - c.state[1] == doctest::Approx(190).epsilon(1e-12));
}

TEST_CASE("hiccup: the run goes on from the turns behind a leap, which is why one more of each is enough") {
  Context c = at_a_failure(0);
  for (int i = 0; i < 4; ++i) turn(c, 0, 0, second, static_cast<std::size_t>(1 + i % 2), traits(0));
  c.state = {5, 6};
  go_on(c, 2);
  CHECK(c.turns.size() == 2);
  CHECK(c.failure->state == c.state);
  CHECK(repeating(c) == 0);
  turn(c, 5, 6, second, 1, traits(0));
  CHECK(repeating(c) == 0);
  turn(c, 5, 6, second, 2, traits(0));
  CHECK(repeating(c) == 2);
}

TEST_CASE("hiccup: what follows and only varies does not bound a leap, what runs on does") {
  const StateTraits t = with_follower();
  Context varies = at_a_failure(0), runs = at_a_failure(0);
  varies.state = runs.state = {0, 0, 0};
  begin_turns(varies);
  begin_turns(runs);
  for (int i = 1; i <= 12; ++i) {
    const auto step = [&](Context& c, double follower) {
      c.now += second;
      c.state[1] = follower;
      follow_failures(c, {c.now, 0, 1}, event_of(EventRole::cut));
      note_failure(c, t);
    };
    step(varies, i % 3 * 0.2);
    step(runs, i * 0.01);
  }
  CHECK(longest_leap(varies, 1) == never);
  CHECK(longest_leap(runs, 1) == 3 * second);  // 0.03 of the scale
}

TEST_CASE("hiccup: an alarm that stands while failures pass bounds the leap and does not move") {
  Context c = at_a_failure(0);
  c.alarm = {5000 * second};
  begin_turns(c);
  turn(c, 0, 0, second, 1, traits(0));
  const Stretch s = latest_turns(c, 1);
  CHECK(s.bound == 5000 * second);
  CHECK(step_over(c, s, 100 * second, traits(0)).alarm[0] == 5000 * second);
}

TEST_CASE("hiccup (1): a state that decays goes where its drive holds it, however far") {
  const double lambda = 1 / 30.0, a = 2.0;
  const Tick length = 6 * second;
  for (const double far : {12.0, 60.0, 3600.0}) {
    const double x1 = relaxed(10, a, lambda, 6);
    const Context c = after_a_turn(10, x1, 0, length, traits(lambda));
    const Stretch before = latest_turns(c, 1);
    const Tick time = static_cast<Tick>(far) * second;
    Context ahead = step_over(c, before, time, traits(lambda));
    CHECK(ahead.state[0] == doctest::Approx(relaxed(x1, a, lambda, far)).epsilon(1e-9));
    // Where the drive has become another one meanwhile, it is left to follow by itself.
    const double from = ahead.state[0], to = relaxed(from, 2.5, lambda, 6);
    StateTraits wide = traits(lambda);
    wide.scale[0] = 1e5;
    REQUIRE(correct_step(ahead, ahead, before, stretch(to - from, 0, length), time, wide));
    CHECK(ahead.state[0] == from);
    // What it dissipates goes with its square, so that it may not relax far in one leap: from 19 here.
    CHECK(correct_step(ahead, ahead, before, stretch(to - from, 0, length), time, traits(lambda)) == (far < 60));
  }
}

TEST_CASE("hiccup: too different a turn after it refuses the leap and leaves the context alone") {
  const Tick time = 300 * second;
  const auto refused = [&](double rate_before, double rate_after, double scale) {
    StateTraits t = traits(0);
    t.scale[0] = scale;
    const Context c = after_a_turn(0, rate_before, 0, second, t);
    const Stretch before = latest_turns(c, 1);
    Context ahead = step_over(c, before, time, t);
    const double state = ahead.state[0];
    const bool kept = correct_step(ahead, ahead, before, stretch(rate_after, 0, second), time, t);
    if (!kept) CHECK(ahead.state[0] == state);
    return !kept;
  };
  CHECK_FALSE(refused(1, 0.81, 1));
  CHECK(refused(1, 0.79, 1));
  CHECK(refused(1, 1.3, 1));
  CHECK(refused(1, -1, 1));
  CHECK_FALSE(refused(1, 1.3, 300 * 0.3 / 1e-4 * 1.01));  // of no weight
}

TEST_CASE("hiccup (3): turns of two kinds keep their proportion, and the state stays about its threshold") {
  // Below zero a turn of 1 s charges by 3, above it one of 2 s draws 5: in the mean 5 turns up for 3 down, 11 s.
  StateTraits t = traits(0);
  t.scale[0] = 1e6;
  Context c = at_a_failure(0);
  double up = 0, down = 0, farthest = 0;
  const Tick begin = c.now, end = begin + 200000 * second;
  std::size_t simulated = 0;
  while (c.now < end) {
    const bool rises = c.state[0] < 0;
    const double x = c.state[0] + (rises ? 3 : -5), integral = c.state[1] + (rises ? 1 : 7);
    (rises ? up : down) += 1;
    ++simulated;
    const Tick length = (rises ? 1 : 2) * second;
    if (turn(c, x, integral, length, rises ? 1 : 2, t)) {
      const double share = share_of(c, end, t);
      if (share >= 1) {
        c = spread(c, share, latest_turns(c, c.turns.size()), t);
        (rises ? up : down) += share;
      }
    }
    farthest = std::max(farthest, std::abs(c.state[0]));
  }
  const double seconds = static_cast<double>(c.now - begin) / second;
  CHECK(simulated < 200000 / 11 * 8 / 5);
  CHECK(up / seconds == doctest::Approx(5.0 / 11).epsilon(0.01));
  CHECK(down / seconds == doctest::Approx(3.0 / 11).epsilon(0.01));
  CHECK(c.state[1] == doctest::Approx(up + 7 * down).epsilon(1e-9));  // all flows by the same weights
  CHECK(farthest < 1e-3 * t.scale[0]);
}

TEST_CASE("hiccup: what follows and runs down bounds what is stepped over") {
  const auto share = [](double a_turn) {
    Context c;
    c.now = 0;
    c.state = {0, 5};
    c.alarm = {never};
    begin_turns(c);
    c.in_vain = first_simulated;
    c.share = 1e6;
    for (int i = 0; i < 10; ++i) {
      c.now += second;
      c.state[1] -= a_turn;
      follow_failures(c, {c.now, 0, 1}, event_of(EventRole::cut));
      note_failure(c, with_follower());
    }
    return share_of(c, never, with_follower());
  };
  CHECK(share(0) > 1e5);
  CHECK(share(1e-3) == doctest::Approx(30));  // 3 % of its scale
  CHECK(share(0.5) < 1);
}

TEST_CASE("hiccup (4): what decays goes to the mean of where the turns hold it") {
  const double lambda = 0.01;
  StateTraits t = traits(lambda);
  Context c = at_a_failure(100);
  // Held at 90 for a second, at 120 for two: 110 in the mean.
  for (int i = 0; i < 16; ++i) {
    const bool low = i % 2 == 0;
    turn(c, relaxed(c.state[0], lambda * (low ? 90 : 120), lambda, low ? 1 : 2), 0, (low ? 1 : 2) * second, low ? 1 : 2,
         t);
  }
  const Context ahead = spread(c, 30, latest_turns(c, c.turns.size()), t);
  CHECK(ahead.now == c.now + 60 * second);
  CHECK(ahead.state[0] == doctest::Approx(relaxed(c.state[0], lambda * 110, lambda, 60)).epsilon(1e-9));
}
