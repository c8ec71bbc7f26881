#include "models/curve.hpp"

#include <doctest/doctest.h>

#include <boost/math/quadrature/gauss.hpp>
#include <limits>
#include <stdexcept>

using namespace overwinter;

namespace {

const std::vector<double> xs{0, 1, 3, 4}, ys{2, 4, 4.5, 4.5};

Curve make(Interpolation i, Outside o) { return Curve(xs, ys, i, o); }

/// Integral by 30-point Gauss quadrature on pieces that no kink divides; step curves jump only between pieces.
double by_quadrature(const Curve& c, double from, double to) {
  std::vector<double> cuts{from};
  for (const double knot : c.x()) {
    if (knot > from && knot < to) cuts.push_back(knot);
  }
  cuts.push_back(to);
  double sum = 0;
  for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
    sum += boost::math::quadrature::gauss<double, 30>::integrate(c, cuts[i], cuts[i + 1]);
  }
  return sum;
}

constexpr Interpolation interpolations[] = {Interpolation::linear, Interpolation::monotone, Interpolation::step};
constexpr Outside outsides[] = {Outside::hold, Outside::extend};

}  // namespace

TEST_CASE("curve: every interpolation passes through its points") {
  for (const Interpolation i : interpolations) {
    for (const Outside o : outsides) {
      const Curve c = make(i, o);
      for (std::size_t k = 0; k < xs.size(); ++k) CHECK(c(xs[k]) == ys[k]);
      CHECK(c.interpolation() == i);
      CHECK(c.outside() == o);
    }
  }
}

TEST_CASE("curve: between the points") {
  const Curve linear = make(Interpolation::linear, Outside::hold);
  CHECK(linear(0.25) == 2.5);
  CHECK(linear(2) == 4.25);
  CHECK(linear.slope(2) == 0.25);
  const Curve step = make(Interpolation::step, Outside::extend);
  CHECK(step(0.999) == 2);
  CHECK(step(1) == 4);
  CHECK(step(2.9) == 4);
  CHECK(step.slope(0.5) == 0);
  // Fritsch & Carlson: inner slope at x = 1 from secants 2 and 0.25 with spacings 1 and 2:
  // weights 2*2 + 1 = 5 and 2 + 2*1 = 4, so 9 / (5/2 + 4/0.25) = 9/18.5; at x = 3 the next secant is 0, so 0.
  const Curve cubic = make(Interpolation::monotone, Outside::hold);
  CHECK(cubic.slope(1) == doctest::Approx(9 / 18.5).epsilon(1e-14));
  CHECK(cubic.slope(3) == doctest::Approx(0.0).epsilon(1e-14));
  // Cubic Hermite at the middle of [1, 3]: (y0 + y1)/2 + h (d0 - d1)/8.
  CHECK(cubic(2) == doctest::Approx(4.25 + 2 * (9 / 18.5) / 8).epsilon(1e-14));
}

TEST_CASE("curve: outside the points") {
  const Curve held = make(Interpolation::linear, Outside::hold);
  CHECK(held(-5) == 2);
  CHECK(held(9) == 4.5);
  CHECK(held.slope(-5) == 0);
  CHECK(held.slope(9) == 0);
  const Curve extended = make(Interpolation::linear, Outside::extend);
  CHECK(extended(-0.5) == 1);
  CHECK(extended.slope(-0.5) == 2);
  CHECK(extended(9) == 4.5);
  const Curve cubic = make(Interpolation::monotone, Outside::extend);
  CHECK(cubic(-0.5) == 1);
  CHECK(make(Interpolation::step, Outside::extend)(-1) == 2);
}

TEST_CASE("curve: the slope is the derivative and the cubic has no kink") {
  for (const Interpolation i : {Interpolation::linear, Interpolation::monotone}) {
    const Curve c = make(i, Outside::extend);
    for (double x = -0.95; x < 5; x += 0.1) {
      const double h = 1e-5;
      CHECK(c.slope(x) == doctest::Approx((c(x + h) - c(x - h)) / (2 * h)).epsilon(1e-8));
    }
  }
  const Curve c = make(Interpolation::monotone, Outside::extend);
  for (const double x : xs) CHECK(std::abs(c.slope(x - 1e-9) - c.slope(x + 1e-9)) < 1e-7);
}

TEST_CASE("curve: the closed-form integral equals Gauss quadrature inside and outside") {
  for (const Interpolation i : interpolations) {
    for (const Outside o : outsides) {
      const Curve c = make(i, o);
      for (const double x : {-2.0, -0.3, 0.0, 0.4, 1.0, 2.2, 3.0, 3.9, 4.0, 6.5}) {
        const double expected = x < 0 ? -by_quadrature(c, x, 0) : by_quadrature(c, 0, x);
        CHECK(c.integral(x) == doctest::Approx(expected).epsilon(1e-13));
      }
    }
  }
}

TEST_CASE("curve: the monotone cubic neither overshoots nor turns") {
  const Curve c({0, 0.05, 0.1, 0.9, 1}, {2.5, 3.1, 3.3, 4.1, 4.2}, Interpolation::monotone, Outside::extend);
  double before = c(-0.1);
  for (double x = -0.1; x < 1.1; x += 1e-3) {
    CHECK(c(x) >= before);
    before = c(x);
  }
  const Curve hill({0, 1, 2}, {0, 1, 0}, Interpolation::monotone, Outside::hold);
  for (double x = 0; x <= 2; x += 0.01) {
    CHECK(hill(x) <= 1);
    CHECK(hill(x) >= 0);
  }
}

TEST_CASE("curve: a single point is a constant") {
  for (const Interpolation i : interpolations) {
    const Curve c({2}, {7}, i, Outside::extend);
    CHECK(c(-1) == 7);
    CHECK(c(5) == 7);
    CHECK(c.slope(5) == 0);
    CHECK(c.integral(4) == 14);
    CHECK(c.integral(1) == -7);
  }
}

TEST_CASE("curve: unusable points are refused") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto refused = [](std::vector<double> x, std::vector<double> y) {
    CHECK_THROWS_AS(Curve(std::move(x), std::move(y), Interpolation::linear, Outside::hold), std::invalid_argument);
  };
  refused({}, {});
  refused({0, 1}, {0});
  refused({0, 0}, {1, 2});
  refused({1, 0}, {1, 2});
  refused({0, nan}, {1, 2});
  refused({0, 1}, {1, nan});
  CHECK(Curve().empty());
  CHECK_FALSE(make(Interpolation::linear, Outside::hold).empty());
}

TEST_CASE("curve: names of its enumerations differ") {
  CHECK(name_of(Interpolation::linear) == "linear");
  CHECK(name_of(Interpolation::monotone) == "monotone cubic");
  CHECK(name_of(Interpolation::step) == "step");
  CHECK(name_of(Outside::hold) != name_of(Outside::extend));
}

TEST_CASE("map: bilinear between the points, held outside") {
  const Map m({0, 2}, {0, 10, 20}, {{1, 2, 4}, {3, 6, 12}});
  CHECK(m(0, 0) == 1);
  CHECK(m(2, 20) == 12);
  CHECK(m(2, 10) == 6);
  CHECK(m(1, 0) == 2);
  CHECK(m(0, 15) == 3);
  CHECK(m(1, 5) == 3);  // mean of 1, 2, 3, 6
  CHECK(m(-1, -1) == 1);
  CHECK(m(5, 50) == 12);
  CHECK(m(5, 5) == 4.5);
  const Map line({1}, {0, 1}, {{5, 7}});
  CHECK(line(99, 0.5) == 6);
  CHECK(Map({1}, {1}, {{3}})(0, 9) == 3);
}

TEST_CASE("map: unusable grids are refused") {
  const double inf = std::numeric_limits<double>::infinity();
  const auto refused = [](std::vector<double> x, std::vector<double> y, std::vector<std::vector<double>> z) {
    CHECK_THROWS_AS(Map(std::move(x), std::move(y), std::move(z)), std::invalid_argument);
  };
  refused({}, {0}, {});
  refused({0}, {}, {{}});
  refused({0, 1}, {0}, {{1}});
  refused({0}, {0, 1}, {{1}});
  refused({0}, {0}, {{inf}});
  refused({1, 0}, {0}, {{1}, {1}});
}
