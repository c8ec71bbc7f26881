#include "models/look_up.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/models/support/random.hpp"

using namespace overwinter;
using namespace overwinter::test;

TEST_CASE("a curve looked up with derivatives: value and slope of the curve") {
  const Curve curve({0, 1, 3}, {2, 5, 6}, Interpolation::monotone, Outside::hold);
  for (const double x : {-1.0, 0.3, 1.0, 2.2, 4.0}) {
    const Dual<1> y = look_up(curve, Dual<1>::variable(x, 0));
    CHECK(y.value == curve(x));
    CHECK(look_up(curve, x) == curve(x));
    CHECK(y.slope[0] == curve.slope(x));
  }
}

TEST_CASE("a map looked up with derivatives: the map's value, and the slopes of its bilinear patches") {
  const Map map({1, 2, 4}, {10, 20, 50}, {{1, 2, 4}, {3, 7, 5}, {2, 9, 8}});
  Random random(11);
  for (int i = 0; i < 2000; ++i) {
    const double x = random.between(0, 5), y = random.between(0, 60);
    const Dual<2> z = look_up(map, Dual<2>::variable(x, 0), Dual<2>::variable(y, 1));
    CHECK(z.value == doctest::Approx(map(x, y)).epsilon(1e-14));
    CHECK(look_up(map, x, y) == z.value);
    const auto outside = [](double v, double low, double high) { return v <= low || v >= high; };
    if (outside(x, 1, 4)) CHECK(z.slope[0] == 0);
    if (outside(y, 10, 50)) CHECK(z.slope[1] == 0);
  }
  // Middle of the patch 1..2 by 20..50, by hand: dz/dx = (7 + 5 - 2 - 4) / 2, dz/dy = ((4 - 2) + (5 - 7)) / 2 / 30.
  const Dual<2> middle = look_up(map, Dual<2>::variable(1.5, 0), Dual<2>::variable(35, 1));
  CHECK(middle.value == doctest::Approx(4.5).epsilon(1e-15));
  CHECK(middle.slope[0] == doctest::Approx(3.0).epsilon(1e-15));
  CHECK(std::abs(middle.slope[1]) < 1e-15);
}

TEST_CASE("maps of a single row, column or value") {
  CHECK(look_up(Map({3}, {1, 2}, {{4, 6}}), 7.0, 1.5) == 5);
  CHECK(look_up(Map({1, 2}, {3}, {{4}, {6}}), 1.5, -2.0) == 5);
  const Dual<2> only = look_up(Map({3}, {3}, {{4}}), Dual<2>::variable(9, 0), Dual<2>::variable(1, 1));
  CHECK(only.value == 4);
  CHECK(only.slope[0] == 0);
  CHECK(only.slope[1] == 0);
}
