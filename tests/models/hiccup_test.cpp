#include "models/hiccup.hpp"

#include <doctest/doctest.h>

#include <array>
#include <string>

using namespace overwinter;

namespace {

/// The counter with numbers of another part around its own.
class Counter {
 public:
  explicit Counter(HiccupParameters p = {}) : hiccup(p, {1, 1, 1, 2}) {
    Writable w = writable();
    hiccup.forget(w);
  }

  View view() const { return {nullptr, x.data(), memory.data(), nullptr, nullptr}; }
  Writable writable() { return {x.data(), memory.data(), alarm.data(), now}; }
  bool start() {
    const Counter before = *this;
    Writable w = writable();
    return hiccup.start_is_replaced(before.view(), w);
  }
  /// Time passes with a constant input current.
  void pass(double seconds, double current, bool averaged = false) {
    std::array<double, 6> dxdt{};
    hiccup.rates(view(), averaged, current, dxdt.data());
    for (std::size_t i = 0; i < x.size(); ++i) x[i] += seconds * dxdt[i];
    now.utc += static_cast<Tick>(seconds * ticks_per_second);
  }
  Tick since_now(std::size_t which) const { return alarm[which] - now.utc; }

  Hiccup hiccup;
  std::array<double, 6> x{7, 1, 1, 1, 1, 7};
  std::array<std::int32_t, 3> memory{7, 1, 7};
  std::array<Tick, 3> alarm{77, 1, 1};
  Moment now{1'000'000'000'000, 0};
};

constexpr Tick minute = 60 * ticks_per_second;

}  // namespace

TEST_CASE("hiccup: it begins from nothing and leaves its neighbours alone") {
  const Counter c;
  CHECK(c.x == std::array<double, 6>{7, 0, 0, 0, 0, 7});
  CHECK(c.memory == std::array<std::int32_t, 3>{7, 0, 7});
  CHECK(c.alarm == std::array<Tick, 3>{77, never, never});
  CHECK(c.hiccup.cycles_per_second(c.view()) == 0);
}

TEST_CASE("hiccup: nothing is integrated before the first start and in the regime") {
  Counter c;
  c.pass(5, 0.1);
  CHECK(c.x[1] == 0);
  CHECK(c.x[2] == 0);
  c.start();
  c.pass(5, 0.1);
  CHECK(c.x[1] == 5);
  CHECK(c.x[2] == doctest::Approx(0.5).epsilon(1e-15));
  c.pass(5, 0.1, true);
  CHECK(c.x[1] == 5);
}

TEST_CASE("hiccup (h1), (h2), (h3): more than the limit of failed cycles are replaced by their average") {
  Counter c;
  for (int i = 0; i < 9; ++i) {
    CAPTURE(i);
    CHECK_FALSE(c.start());
    CHECK(c.hiccup.cycles(c.view()) == i + 1);
    CHECK(c.since_now(1) == 10 * minute);
    CHECK(c.since_now(2) == never - c.now.utc);
    c.pass(0.5, 0.3);   // up
    c.pass(1.5, 0.02);  // waiting
  }
  CHECK(c.start());  // nine cycles failed, that is more than eight
  CHECK(c.x[4] == doctest::Approx(2.0).epsilon(1e-15));
  CHECK(c.hiccup.average(c.view()) == doctest::Approx(0.09).epsilon(1e-14));
  CHECK(c.hiccup.cycles_per_second(c.view()) == doctest::Approx(0.5).epsilon(1e-15));
  CHECK(c.alarm[1] == never);
  CHECK(c.since_now(2) == 30 * minute);
}

TEST_CASE("hiccup: after the hold one real cycle, and at once back with that cycle's average") {
  HiccupParameters p;
  p.hiccup_limit = 1;
  p.hiccup_hold = Duration{120.0};
  Counter c(p);
  CHECK_FALSE(c.start());
  c.pass(1, 0.1);
  CHECK_FALSE(c.start());
  c.pass(1, 0.1);
  CHECK(c.start());
  CHECK(c.since_now(2) == 2 * minute);
  c.pass(120, 0.1, true);
  Writable w = c.writable();
  c.hiccup.try_again(w);
  CHECK(c.alarm[2] == never);
  CHECK(c.since_now(1) == 10 * minute);
  c.pass(4, 0.3);
  CHECK(c.start());
  CHECK(c.hiccup.average(c.view()) == doctest::Approx(0.3).epsilon(1e-15));
  CHECK(c.x[4] == 4);
}

TEST_CASE("hiccup: a part that was forgotten begins a new count") {
  Counter c;
  for (int i = 0; i < 9; ++i) {
    c.start();
    c.pass(1, 0.1);
  }
  Writable w = c.writable();
  c.hiccup.forget(w);  // steady for longer than the window, or switched off
  CHECK(c.hiccup.cycles(c.view()) == 0);
  CHECK_FALSE(c.start());
  CHECK(c.hiccup.cycles(c.view()) == 1);
}

TEST_CASE("hiccup: an average is never a source") {
  Counter c;
  c.x[3] = -0.1;
  CHECK(c.hiccup.average(c.view()) == 0);
}

TEST_CASE("hiccup: findings") {
  std::vector<Finding> findings;
  HiccupParameters p;
  check_hiccup(p, Duration{0.1}, findings);
  CHECK(findings.empty());
  p.hiccup_window = p.hiccup_hold = Duration{0.1};
  check_hiccup(p, Duration{0.1}, findings);
  REQUIRE(findings.size() == 2);
  CHECK(findings[0].field == "hiccup_window");
  CHECK(findings[1].field == "hiccup_hold");
}
