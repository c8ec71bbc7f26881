#include "sim/service/light_before.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/sim/service/support/scripted.hpp"

using namespace overwinter;

namespace {

constexpr CivilDate march_1{2025, 3, 1};

/// A sky whose median day brings 100 in every month, with this light day by day.
SunnyDays sky_of(std::vector<double> light) {
  SunnyDays sky(test::march(1));
  sky.median_of_month.fill(100);
  sky.light = std::move(light);
  sky.sunny.assign(sky.light.size(), false);
  return sky;
}

}  // namespace

TEST_CASE("a dark spell begins where the light fell behind, and ends with the day before") {
  const SunnyDays sky = sky_of({120, 110, 90, 30, 20, 40, 10, 500});
  const auto light = light_before(sky, march_1, 7);
  REQUIRE(light);
  CHECK(light->dark);
  CHECK(light->first == 3);
  CHECK(light->days == 4);
  CHECK(light->light == doctest::Approx(25));  // (30 + 20 + 40 + 10) / 4
  CHECK(light->share() == doctest::Approx(0.25));
}

TEST_CASE("a fair day inside does not end a spell that goes on being dark on the whole") {
  const auto light = light_before(sky_of({100, 10, 10, 90, 10, 10}), march_1, 6);
  REQUIRE(light);
  CHECK(light->first == 1);
  CHECK(light->days == 5);
}

TEST_CASE("ordinary light is told over fourteen days, less is no dark spell") {
  const auto light = light_before(sky_of(std::vector<double>(30, 80.0)), march_1, 20);
  REQUIRE(light);
  CHECK(!light->dark);
  CHECK(light->first == 6);
  CHECK(light->days == 14);
  CHECK(light->share() == doctest::Approx(0.8));
  // One day that lacks less than half a median day.
  CHECK(!light_before(sky_of({100, 100, 30}), march_1, 3)->dark);
  CHECK(light_before(sky_of({100, 100, 20}), march_1, 3)->dark);
}

TEST_CASE("nothing is told before the first whole day, or without a median") {
  CHECK(!light_before(sky_of({10, 10}), march_1, 0));
  SunnyDays sky = sky_of({10, 10});
  sky.median_of_month.fill(std::nan(""));
  CHECK(!light_before(sky, march_1, 1));
}
