#include "sim/why/search.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>
#include <map>
#include <random>

using namespace overwinter;

namespace {

bool any(double) { return true; }

/// Found within 5 % of its change, and 95 % of what was found does not help.
void check_found(double now, double bound, double threshold) {
  const auto helps = [=](double v) { return bound > now ? v >= threshold : v <= threshold; };
  const auto s = smallest_change(now, bound, 1e-3, 0, any, helps);
  REQUIRE(s);
  REQUIRE(s->value);
  CHECK(helps(*s->value));
  CHECK(std::abs(*s->value - now) <= std::abs(threshold - now) / 0.94);
  REQUIRE(s->short_of);
  CHECK(!helps(*s->short_of));
  CHECK((*s->short_of - now) / (*s->value - now) == doctest::Approx(0.95).epsilon(0.006));  // three digits
  CHECK(s->tries <= 16);
}

}  // namespace

TEST_CASE("the smallest change is found to 5 %, upwards and downwards, near and far") {
  for (const double share : {0.003, 0.02, 0.1, 0.37, 0.8}) {
    CAPTURE(share);
    check_found(3000, 30000, 3000 + share * 27000);
    check_found(0.15, 0.0015, 0.15 - share * 0.1485);
  }
}

TEST_CASE("what does not help even at the bound is given up after two tries") {
  const auto s = smallest_change(10, 100, 1e-3, 0, any, [](double) { return false; });
  REQUIRE(s);
  CHECK(!s->value);
  CHECK(s->tries == 2);
  CHECK(s->furthest == 100);
}

TEST_CASE("a bound beyond what helps does not hide it") {
  const auto s = smallest_change(10, 110, 1e-3, 0, any, [](double v) { return v > 25 && v < 60; });
  REQUIRE(s);
  REQUIRE(s->value);
  CHECK(*s->value == doctest::Approx(25).epsilon(0.06));
}

TEST_CASE("where 95 % helps after all, the search goes on below") {
  // Helps from 20 on, but not between 30 and 31.
  const auto helps = [](double v) { return v >= 20 && !(v > 30 && v < 31); };
  const auto s = smallest_change(10, 110, 1e-3, 0, any, helps);
  REQUIRE(s);
  REQUIRE(s->value);
  CHECK(helps(*s->value));
  REQUIRE(s->short_of);
  CHECK(!helps(*s->short_of));
}

TEST_CASE("a bound that the reader refuses is drawn in; nothing is found where nothing is let pass") {
  const auto s = smallest_change(
      100, 10000, 1e-3, 0, [](double v) { return v <= 500; }, [](double v) { return v > 300; });
  REQUIRE(s);
  REQUIRE(s->value);
  CHECK(s->furthest <= 500);
  CHECK(*s->value == doctest::Approx(300).epsilon(0.04));
  CHECK(!smallest_change(
      4.3, 2.15, 1e-3, 0, [](double v) { return v > 4.29999; }, any));
}

TEST_CASE("steps, and a change too small to look below") {
  const auto s = smallest_change(120, 10080, 1e-3, 1, any, [](double v) { return v >= 197.3; });
  REQUIRE(s);
  REQUIRE(s->value);
  CHECK(*s->value == std::round(*s->value));
  CHECK(*s->value >= 198);
  CHECK(*s->value <= 202);
  const auto hair = smallest_change(3000, 30000, 1e-3, 0, any, [](double v) { return v > 3000; });
  REQUIRE(hair);
  REQUIRE(hair->value);
  CHECK(*hair->value <= 3003);
  CHECK(!hair->short_of);
}

TEST_CASE("no change below the least is looked at, and where that one helps it is the smallest") {
  double nearest = 1e9;
  const auto noted = [&](double from) {
    return [&nearest, from](double v) {
      nearest = std::min(nearest, std::abs(v - 100));
      return v <= from;
    };
  };
  const auto tiny = smallest_change(100, 50, 0.02, 0, any, noted(99.9));
  REQUIRE(tiny);
  CHECK(tiny->value == doctest::Approx(98));
  CHECK(!tiny->short_of);
  CHECK(nearest == doctest::Approx(2));
  // A little more than the least: the least itself is what does not do.
  const auto little = smallest_change(100, 50, 0.02, 0, any, noted(97.95));
  REQUIRE(little);
  REQUIRE(little->value);
  CHECK(*little->value <= 97.95);
  CHECK(*little->value >= 97.8);
  REQUIRE(little->short_of);
  CHECK(*little->short_of > 97.95);
  CHECK(nearest == doctest::Approx(2));
  const auto far = smallest_change(100, 50, 0.02, 0, any, noted(80));
  REQUIRE(far);
  CHECK(far->value == doctest::Approx(80).epsilon(0.015));
  CHECK(!smallest_change(100, 99, 0.02, 0, any, any));
}

TEST_CASE("however ragged the answers, what is found helps, and 95 % of it does not or is the least change") {
  for (std::uint32_t seed = 1; seed <= 200; ++seed) {
    CAPTURE(seed);
    std::map<double, bool> answers;
    std::mt19937 random(seed);
    const auto helps = [&](double v) {
      return answers.emplace(v, std::abs(v - 10) > 0.5 && random() % 4 != 0).first->second;
    };
    const auto s = smallest_change(10, 110, 1e-3, 0, any, helps);
    REQUIRE(s);
    if (!s->value) continue;
    CHECK(answers.at(*s->value));
    if (s->short_of) CHECK_FALSE(answers.at(*s->short_of));
    CHECK((s->short_of || std::abs(*s->value - 10) <= 0.01));
  }
}
