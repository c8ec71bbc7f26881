#include "sim/engine/hiccup.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/table.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second;

/// dx/dt = a - b x, from x at a time: exact.
double relaxed(double x, double a, double b, double seconds) { return a / b + (x - a / b) * std::exp(-b * seconds); }

Event event_of(EventRole role) {
  Event e;
  e.role = role;
  e.reset = [](const Model&, const View&, Writable&) {};
  return e;
}

/// One state, one integral; a stretch of 24 failures from `begin` to now.
Context at_the_end_of_a_stretch(double state_before, double state, double integral, Tick length) {
  Context c;
  c.now = 1000 * second;
  c.state = {state_before, 0};
  c.alarm = {never};
  begin_stretch(c, shortest_stretch, 0);
  c.now += length;
  c.state = {state, integral};
  for (std::size_t i = 0; i < shortest_stretch; ++i) note_failure(c);
  return c;
}

StateTraits traits(double decay) { return {{decay}, {1000.0}, {0}}; }

/// The stretch that a state and an integral make of one length.
Stretch stretch(double step, double integral, Tick length) { return {length, never, {step, integral}, {0}, {}}; }

}  // namespace

TEST_CASE("hiccup: a stretch begins with a failure and is complete with so many more") {
  Context c;
  c.state = {0};
  c.alarm = {never};
  const Event cut = event_of(EventRole::cut), came = event_of(EventRole::power_came), none = event_of(EventRole::none);
  CHECK_FALSE(follow_failures(c, {0, 0, 0}, came));
  CHECK(c.since.empty());
  CHECK(follow_failures(c, {0, 0, 1}, cut));
  CHECK_FALSE(note_failure(c));
  for (std::size_t i = 1; i <= shortest_stretch; ++i) {
    c.now += second;
    CHECK_FALSE(follow_failures(c, {c.now, 0, 2}, none));
    CHECK_FALSE(follow_failures(c, {c.now, 0, 0}, came));
    CHECK(follow_failures(c, {c.now, 0, 1}, cut));
    CHECK(note_failure(c) == (i == shortest_stretch));
  }
  CHECK(c.since.size() == 2 * shortest_stretch);
  CHECK(c.since.front().event == 0);
  CHECK(c.since.back().time == c.now);
}

TEST_CASE("hiccup: a completed wake, a due alarm, ten quiet minutes and new weather end a stretch") {
  const Event cut = event_of(EventRole::cut);
  const auto stretch_of_ten = [&] {
    Context c;
    c.state = {0};
    c.alarm = {never};
    for (int i = 0; i <= 10; ++i) {
      follow_failures(c, {c.now, 0, 1}, cut);
      note_failure(c);
      c.now += second;
    }
    REQUIRE(c.failures == 10);
    return c;
  };
  for (const EventRole role : {EventRole::wake_completed, EventRole::alarm_due}) {
    Context c = stretch_of_ten();
    follow_failures(c, {c.now, 0, 3}, event_of(role));
    CHECK(static_cast<bool>(c.stretch) == false);
  }
  Context quiet = stretch_of_ten();
  quiet.now += 600 * second;
  note_failure(quiet);
  CHECK(quiet.failures == 0);
  Context weather = stretch_of_ten();
  ++weather.interval;
  note_failure(weather);
  CHECK(weather.failures == 0);
  Context neither = stretch_of_ten();
  neither.now += 599 * second;
  note_failure(neither);
  CHECK(neither.failures == 11);
}

TEST_CASE("hiccup (2): with a steady rate the leap is exact, and alarms that come with the failures come along") {
  Context c = at_the_end_of_a_stretch(100, 103, 6, 3 * second);
  c.alarm = {c.now + second};
  const Stretch before = present_stretch(c);
  CHECK(before.length == 3 * second);
  CHECK(before.bound == never);
  Context ahead = step_over(c, before, 300 * second, traits(0));
  CHECK(ahead.now == c.now + 300 * second);
  CHECK(ahead.alarm[0] == c.alarm[0] + 300 * second);
  CHECK(ahead.state[0] == doctest::Approx(403).epsilon(1e-12));
  CHECK(ahead.state[1] == doctest::Approx(606).epsilon(1e-12));
  CHECK(correct_step(ahead, before, stretch(4, 8, 4 * second), 300 * second, traits(0), true) ==
        0.5);  // the same rates
  CHECK(ahead.state[0] == doctest::Approx(403).epsilon(1e-12));
  CHECK(ahead.failures == 0);
}

TEST_CASE("hiccup: an alarm that stands while failures pass bounds the leap and does not move") {
  Context c;
  c.state = {0};
  c.alarm = {5000 * second};
  begin_stretch(c, shortest_stretch, 0);
  c.now += second;
  const Stretch s = present_stretch(c);
  CHECK(s.bound == 5000 * second);
  CHECK(step_over(c, s, 100 * second, traits(0)).alarm[0] == 5000 * second);
}

TEST_CASE("hiccup (1): a state that decays goes where its drive holds it, however far") {
  const double lambda = 1 / 30.0, a = 2.0;
  const Tick length = 6 * second;
  for (const double far : {12.0, 60.0, 3600.0}) {
    const double x1 = relaxed(10, a, lambda, 6);
    const Context c = at_the_end_of_a_stretch(10, x1, 0, length);
    const Stretch before = present_stretch(c);
    const Tick time = static_cast<Tick>(far) * second;
    Context ahead = step_over(c, before, time, traits(lambda));
    CHECK(ahead.state[0] == doctest::Approx(relaxed(x1, a, lambda, far)).epsilon(1e-9));
    // Where the drive has become another one meanwhile, it is left to follow by itself.
    const double from = ahead.state[0], to = relaxed(from, 2.5, lambda, 6);
    StateTraits wide = traits(lambda);
    wide.scale[0] = 1e5;
    REQUIRE(!!correct_step(ahead, before, stretch(to - from, 0, length), time, wide, true));
    CHECK(ahead.state[0] == from);
    // What it dissipates goes with its square, so that it may not relax far in one leap: from 19 here.
    CHECK(!!correct_step(ahead, before, stretch(to - from, 0, length), time, traits(lambda), true) == (far < 60));
  }
}

TEST_CASE("hiccup (3): where the rate is linear in the state, the leap follows the exact exponential") {
  const double a = 1.0;
  const Tick length = second / 1000;  // so short that its mean rate is the rate
  for (const double b : {0.0, 1e-4, 2e-3, 1e-2, 0.05}) {
    for (const double far : {10.0, 200.0}) {
      CAPTURE(b);
      CAPTURE(far);
      const auto rate = [&](double x) { return a - b * x; };
      const Context c = at_the_end_of_a_stretch(-rate(0) / 1000, 0, 0.003 * rate(0), length);
      const Stretch before = present_stretch(c);
      const Tick time = static_cast<Tick>(far) * second;
      StateTraits t = traits(0);
      t.scale[0] = 1e5;  // so large that even a sliding state may be led this far
      Context ahead = step_over(c, before, time, t);
      const double after = rate(ahead.state[0]);
      REQUIRE(!!correct_step(ahead, before, stretch(after / 1000, 0.003 * after, length), time, t, true));
      const double exact = b > 0 ? relaxed(0, a, b, far) : a * far;
      CHECK(ahead.state[0] == doctest::Approx(exact).epsilon(1e-4));
      // A flow in proportion to the rate is integrated with the same weights.
      CHECK(ahead.state[1] - c.state[1] == doctest::Approx(3 * exact).epsilon(1e-4));
    }
  }
}

TEST_CASE("hiccup: the drift of a sawtooth hardly depends on where in the tooth a stretch ends") {
  // Height 1 over teeth of eight failures a second apart, on a drift of 0.01 a second.
  const auto value = [](double t) { return 0.01 * t + std::fmod(t, 8) / 8; };
  for (const int failures : {96, 97, 99, 103}) {
    Context c;
    c.state = {value(0)};
    c.alarm = {never};
    begin_stretch(c, static_cast<std::size_t>(failures), 0);
    for (int i = 1; i <= failures; ++i) {
      c.now += second;
      c.state = {value(i)};
      note_failure(c);
    }
    const Stretch s = present_stretch(c);
    CAPTURE(failures);
    CHECK(s.step[0] / failures == doctest::Approx(0.01).epsilon(0.05));
  }
  // From its ends: up to 0.875 more in 103 s.
  CHECK((value(103) - value(0)) / 103 > 0.018);
}

TEST_CASE("hiccup: after a leap failures settle before a stretch begins") {
  const Context c = at_the_end_of_a_stretch(100, 103, 6, 3 * second);
  Context ahead = step_over(c, present_stretch(c), 300 * second, traits(0));
  CHECK(ahead.settling == shortest_stretch / 2);
  for (std::size_t i = 1; i <= shortest_stretch / 2 + shortest_stretch; ++i) {
    ahead.now += second;
    CHECK(note_failure(ahead) == (i == shortest_stretch / 2 + shortest_stretch));
  }
  CHECK(present_stretch(ahead).length == static_cast<Tick>(shortest_stretch) * second);
}

TEST_CASE("hiccup: stretches grow after leaps that came to nothing, and begin anew after the longest") {
  Context c = at_the_end_of_a_stretch(100, 103, 6, 3 * second);
  for (std::size_t wanted = 2 * shortest_stretch; wanted <= longest_stretch; wanted *= 2) {
    try_longer_stretch(c);
    CHECK(c.failures_wanted == wanted);
    CHECK(c.failures == shortest_stretch);  // the same one, gone on with
  }
  try_longer_stretch(c);
  CHECK(c.failures_wanted == shortest_stretch);
  CHECK(c.failures == 0);
  CHECK(c.settling == longest_stretch);
}

TEST_CASE("hiccup: failures are counted by weather interval, and of too many only the rates are compared") {
  Context c;
  c.state = {0};
  c.alarm = {never};
  for (int i = 0; i < 40; ++i) note_failure(c);
  CHECK(c.looked_at == 40);
  ++c.interval;
  note_failure(c);
  CHECK(c.looked_at == 1);
  const Context end = at_the_end_of_a_stretch(100, 103, 6, 3 * second);
  const Stretch before = present_stretch(end);
  Stretch after = stretch(4, 8, 4 * second);
  for (int i = 0; i < 9; ++i) after.events.push_back({0, 3, 1});
  for (const bool strictly : {true, false}) {
    Context ahead = step_over(end, before, 300 * second, traits(0));
    CHECK(!!correct_step(ahead, before, after, 300 * second, traits(0), strictly) == !strictly);
  }
}

TEST_CASE("hiccup: the events of two stretches are alike, kind by kind") {
  const auto with = [](int first, int second_kind, double length) {
    Stretch s = stretch(0, 0, static_cast<Tick>(length * static_cast<double>(second)));
    for (int i = 0; i < first; ++i) s.events.push_back({0, 3, 1});
    for (int i = 0; i < second_kind; ++i) s.events.push_back({0, 4, 1});
    return s;
  };
  CHECK(events_alike(with(24, 8, 10), with(24, 8, 10)));
  CHECK(events_alike(with(24, 8, 10), with(48, 16, 20)));       // as often
  CHECK_FALSE(events_alike(with(24, 8, 10), with(24, 8, 30)));  // a third as often
  CHECK_FALSE(events_alike(with(24, 8, 10), with(24, 0, 10)));  // one kind is gone
  CHECK(events_alike(with(24, 1, 10), with(24, 0, 10)));        // by chance
  CHECK(same_events(with(24, 8, 10), with(24, 8, 10.1)));
  CHECK_FALSE(same_events(with(24, 8, 10), with(24, 8, 10.5)));
  CHECK_FALSE(same_events(with(24, 8, 10), with(24, 7, 10)));
}

TEST_CASE("hiccup: too different a stretch after it refuses the leap and leaves the context alone") {
  const Tick time = 300 * second;
  const auto refused = [&](double rate_before, double rate_after, double scale) {
    const Context c = at_the_end_of_a_stretch(0, rate_before, 0, second);
    const Stretch before = present_stretch(c);
    StateTraits t = traits(0);
    t.scale[0] = scale;
    Context ahead = step_over(c, before, time, t);
    const double state = ahead.state[0];
    const bool kept = !!correct_step(ahead, before, stretch(rate_after, 0, second), time, t, true);
    if (!kept) CHECK(ahead.state[0] == state);
    return !kept;
  };
  CHECK_FALSE(refused(1, 0.81, 1));
  CHECK(refused(1, 0.79, 1));
  CHECK(refused(1, 1.3, 1));
  CHECK(refused(1, -1, 1));
  CHECK_FALSE(refused(1, 1.3, 300 * 0.3 / 1e-3 * 1.01));  // of no weight
  CHECK_FALSE(refused(1, -1, 300 / 3e-3 * 1.01));         // slides, not led far astray
  CHECK(refused(1, 3, 300 / 3e-3 * 1.01));                // runs away
}

TEST_CASE("hiccup: in the time that a state may slide, even a reversed rate is kept") {
  for (const double rate : {0.02, -3.0}) {
    const Context c = at_the_end_of_a_stretch(0, rate, 0, second);
    const Stretch before = present_stretch(c);
    const Tick time = sliding_time(before, traits(0));
    CHECK(static_cast<double>(time) / second == doctest::Approx(0.99 * 3e-3 * 1000 / std::abs(rate)).epsilon(1e-9));
    Context ahead = step_over(c, before, time, traits(0));
    CHECK(!!correct_step(ahead, before, stretch(-10 * rate, 0, second), time, traits(0), true));
    Context further = step_over(c, before, 2 * time, traits(0));
    CHECK_FALSE(!!correct_step(further, before, stretch(-10 * rate, 0, second), 2 * time, traits(0), true));
  }
}
