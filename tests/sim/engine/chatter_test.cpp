#include "sim/engine/chatter.hpp"

#include <doctest/doctest.h>

#include "sim/engine/simulator.hpp"
#include "sim/engine/transient.hpp"
#include "tests/support/toy.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second;

/// A toy that turns on and off once a `pause`, from its first second on until so many.
std::shared_ptr<const test::Toy> latching(Tick pause, EventRole role = EventRole::none, double until = 1e9) {
  ModelTable t;
  t.alarms = 1;
  t.events.push_back(test::at_alarm("turns", 0, [=](const Model&, const View&, Writable& w) {
    w.alarm[0] = w.x[0] < until ? w.now.utc + pause : never;
  }));
  t.events.back().role = role;
  auto toy = std::make_shared<test::Toy>(std::move(t));
  toy->begins = [](Writable& w) { w.alarm[0] = w.now.utc + second; };
  return toy;
}

/// What a run of so many seconds ends with: empty where it is completed.
std::string told(const std::shared_ptr<const test::Toy>& toy, Tick length, const SimulatorOptions& options = {}) {
  const Diagram diagram(test::toys({{"relay", toy}, {"still", latching(never / 2)}}));
  const Weather weather = test::dark(2);
  Simulator simulator(diagram, weather, options);
  Context c = simulator.start();
  try {
    simulator.advance(c, c.now + length);
  } catch (const SimulationError& e) {
    return e.what();
  }
  return {};
}

}  // namespace

TEST_CASE("chatter: minutes begin with an event and follow one another") {
  Context c;
  c.now = 1000 * second;
  for (int i = 0; i < 60000; ++i) CHECK_MESSAGE(count_event(c), i);
  CHECK_FALSE(count_event(c));
  c.now += 60 * second;
  CHECK(count_event(c));
  CHECK(c.events_in_minute == 1);
  CHECK(c.minute == c.now);
  CHECK(c.events == 60002);
}

TEST_CASE("chatter: a leap counts at its rate, in every minute that it passes, and one of no length at once") {
  const auto after = [](double counted, Tick length, double rate) {
    Context c;
    c.minute = 0;
    c.events_in_minute = counted;
    c.now = 30 * second + length;
    const bool sound = count_leap(c, 30 * second, rate * static_cast<double>(length) / second);
    return std::pair(sound, c);
  };
  // Within the minute, what was counted before it counts too.
  CHECK(after(50000, 10 * second, 999).first);
  CHECK(after(50000, 10 * second, 999).second.events_in_minute == 59990);
  CHECK_FALSE(after(50000, 10 * second, 1001).first);
  // Beyond it by part of a minute, and by many.
  const auto [sound, c] = after(10000, 50 * second, 1500);
  CHECK(sound);
  CHECK(c.minute == 60 * second);
  CHECK(c.events_in_minute == 30000);
  CHECK_FALSE(after(10000, 100 * second, 1500).first);
  CHECK(after(0, 3600 * second, 999).first);
  CHECK(after(0, 3600 * second, 999).second.minute == 3600 * second);
  // After an hour without events a minute begins with the leap.
  Context later;
  later.now = 3610 * second;
  CHECK(count_leap(later, 3600 * second, 9990));
  CHECK(later.minute == 3600 * second);
  CHECK(later.events_in_minute == doctest::Approx(9990));
  CHECK(count_leap(later, later.now, 50009.9));
  CHECK_FALSE(count_leap(later, later.now, 1));
}

TEST_CASE("chatter: a part that latches on and off without rest ends the run, with its name, the event and a way out") {
  CHECK(told(latching(second / 2000), 100 * second) ==
        "2025-03-01T00:00:30.999500000Z: more than 60000 events within a minute of simulated time: relay \"turns\" "
        "without rest; try a wider hysteresis, a longer delay or retry time, or a larger capacitor at the part that "
        "begins it");
}

TEST_CASE("chatter: just below it the run goes on") {
  CHECK(told(latching(second / 999), 130 * second).empty());
  CHECK(told(latching(second / 2000, EventRole::none, 30.9), 200 * second).empty());
}

TEST_CASE("chatter: milliseconds with the fast stores integrated are held to the same count") {
  const SimulatorOptions inside = transient_options({});
  CHECK(told(latching(second / 200'000), second * 3 / 2, inside).find("relay \"turns\"") != std::string::npos);
  CHECK(told(latching(second / 200'000, EventRole::none, 1.299), second * 3 / 2, inside).empty());
}

TEST_CASE("chatter: a loop that is stepped over is held to the count by its rate") {
  CHECK(told(latching(second / 2000, EventRole::cut), 3600 * second).find("relay \"turns\"") != std::string::npos);
  CHECK(told(latching(second / 900, EventRole::cut), 3600 * second).empty());
  // A burst of many failures that is over before the count is none.
  CHECK(told(latching(second / 2000, EventRole::cut, 26), 3600 * second).empty());
}
