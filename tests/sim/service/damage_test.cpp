#include "sim/service/damage.hpp"

#include <doctest/doctest.h>

#include "tests/support/toy.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second;

/// Damaged above 3.6 V, and below 1 V; its state is the voltage.
std::shared_ptr<const test::Toy> part() {
  ModelTable t;
  t.states = {{"volts", unit_of<Voltage>("V"), 1, ""}};
  const auto volts = [](const Model&, const View& v) { return v.x[0]; };
  t.events = {test::when("too high", [](const Model&, const View& v) { return v.x[0] - 3.6; }),
              test::when("too low", [](const Model&, const View& v) { return 1 - v.x[0]; })};
  AbsoluteLimit high{"too high", "above its {} supply limit", "less", false,
                     0,          unit_of<Voltage>("V"),       volts,  [](const Model&) { return 3.6; }};
  AbsoluteLimit low{
      "too low", "below {}", "more", true, 1, unit_of<Voltage>("mV"), volts, [](const Model&) { return 1.0; }};
  t.limits = {high, low};
  return std::make_shared<test::Toy>(std::move(t));
}

struct Bench {
  Bench() : diagram(test::toys({{"logger", part()}})), system(diagram), log(diagram) {}
  void set(double volts) {
    state = volts;
    system.set_inputs(&state, nullptr, nullptr);
    system.set_solution(&network);
  }
  Bench& step(Tick at, double volts) {
    set(volts);
    log.on_step(at, &state, system);
    return *this;
  }
  /// An instant's events; `volts` before them.
  Bench& happening(Tick at, double volts, int round = 0) {
    set(volts);
    log.on_happening({at, round, nullptr, nullptr}, &state, system);
    return *this;
  }
  Diagram diagram;
  Evaluator system;
  DamageLog log;
  double state = 0;
  const double network = 0;
};

}  // namespace

TEST_CASE("damage: none within the limits") {
  Bench b;
  b.step(0, 3.3).step(10 * second, 3.59).step(20 * second, 1.01);
  CHECK(b.log.damages().empty());
  CHECK(times_damaged(b.log.damages()) == 0);
}

TEST_CASE("damage: when, how long and how far") {
  Bench b;
  b.step(5 * second, 3.7).step(15 * second, 4.1).step(25 * second, 3.9).happening(30 * second, 3.8);
  b.step(30 * second, 0.1 + 1);  // by an event
  const std::vector<Damage> all = b.log.damages();
  REQUIRE(all.size() == 1);
  const Damage& d = all.front();
  CHECK(d.part == "logger");
  CHECK(d.limit->name == "too high");
  CHECK(d.times == 1);
  CHECK(d.first == 5 * second);
  CHECK(d.last == 30 * second);
  CHECK(d.beyond == doctest::Approx(25));
  CHECK(d.worst == 4.1);
  CHECK(d.worst_at == 15 * second);
  CHECK(d.allowed == 3.6);
  CHECK(damage_text(d) == "logger above its 3.6 V supply limit once, up to 4.1 V");
}

TEST_CASE("damage: a step in which it ends without an event counts by its share") {
  Bench b;
  b.step(0, 3.8).step(10 * second, 3.5);  // 3.6 V after two thirds
  CHECK(b.log.damages().front().beyond == doctest::Approx(20.0 / 3));
  CHECK(b.log.damages().front().last == doctest::Approx(20.0 / 3 * second).epsilon(1e-6));
}

TEST_CASE("damage: what lasts no time is none, within an instant's rounds either") {
  Bench b;
  b.step(0, 3.3).happening(second, 4.0).happening(second, 4.0, 1).step(second, 3.3);
  CHECK(b.log.damages().empty());
}

TEST_CASE("damage: two stretches with less than a minute between them count as one, without the time between") {
  Bench b;
  for (Tick t = 0; t < 1000; ++t) b.step(t * second, t % 2 ? 3.3 : 3.9);
  CHECK(b.log.damages().front().times == 1);
  CHECK(b.log.damages().front().beyond == doctest::Approx(250));  // half of each second in which it falls
  Bench twice;
  twice.step(0, 3.9).happening(second, 3.9).step(second, 3.3);
  twice.step(60 * second, 3.3).step(61 * second, 3.9).happening(62 * second, 3.9).step(62 * second, 3.3);
  CHECK(twice.log.damages().front().times == 2);
  CHECK(twice.log.damages().front().first == 0);
  CHECK(twice.log.damages().front().beyond == doctest::Approx(2));
}

TEST_CASE("damage: the time of restarts that are stepped over is no distance between two") {
  for (const bool leap : {false, true}) {
    Bench b;
    b.step(0, 3.9).happening(second, 3.9).step(second, 3.3).step(30 * second, 3.3);
    if (leap) b.log.on_leap({30 * second, 3600 * second, {}, {}, 0, 0});
    b.step(3600 * second, 3.3).step(3610 * second, 3.9);
    CHECK(b.log.damages().front().times == (leap ? 1 : 2));
  }
}

TEST_CASE("damage: a lowest limit, its worst value the lowest, in its own unit") {
  Bench b;
  b.step(0, 0.8).step(second, 0.4).step(2 * second, 0.9);
  const Damage d = b.log.damages().front();
  CHECK(d.worst == 0.4);
  CHECK(damage_text(d) == "logger below 1000 mV once, down to 400 mV");
}

TEST_CASE("damage: as many digits as tell the worst value from its limit, the most frequent first") {
  Bench b;
  b.step(0, 3.6004).happening(second, 3.6004).step(second, 0.5).step(2 * second, 1.5);
  b.step(100 * second, 0.7).step(101 * second, 1.5);
  CHECK(damage_text(b.log.damages()) ==
        "damage: logger below 1000 mV 2 times, down to 500 mV, and logger above its 3.6 V supply limit once, up to "
        "3.6004 V");
  CHECK(times_damaged(b.log.damages()) == 3);
}
