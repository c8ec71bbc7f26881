#include "models/smooth.hpp"

#include <doctest/doctest.h>

#include <functional>

#include "tests/models/support/near.hpp"

using namespace overwinter;
using overwinter::test::relative_error;

namespace {

using D = Dual<1>;

/// The slope that comes with a Dual equals central differences of the value.
void check_slope(const std::function<double(double)>& value, const std::function<D(D)>& dual, double at) {
  const double h = 1e-6;
  const D f = dual(D::variable(at, 0));
  CHECK(f.value == doctest::Approx(value(at)).epsilon(1e-14));
  CHECK(f.slope[0] == doctest::Approx((value(at + h) - value(at - h)) / (2 * h)).epsilon(1e-6));
}

}  // namespace

TEST_CASE("bounded_exp: the exponential below 60, its tangent above") {
  CHECK(bounded_exp(0.0) == 1.0);
  CHECK(bounded_exp(59.9) == std::exp(59.9));
  CHECK(bounded_exp(61.0) == doctest::Approx(2 * std::exp(60.0)).epsilon(1e-14));
  CHECK(bounded_exp(-1000.0) == 0.0);
  CHECK(std::isfinite(bounded_exp(1e6)));
  for (const double x : {-2.0, 3.0, 59.0}) {
    CHECK(relative_error(bounded_exp(D::variable(x, 0)).slope[0], std::exp(x)) < 1e-14);
  }
  for (const double x : {60.0, 75.0}) {
    CHECK(relative_error(bounded_exp(D::variable(x, 0)).slope[0], std::exp(60.0)) < 1e-14);
  }
}

TEST_CASE("soft_ramp: zero, a parabola, a straight line shifted by the width") {
  CHECK(soft_ramp(-1.0, 0.1) == 0);
  CHECK(soft_ramp(0.0, 0.1) == 0);
  CHECK(soft_ramp(0.1, 0.1) == doctest::Approx(0.025));
  CHECK(soft_ramp(0.2, 0.1) == doctest::Approx(0.1));
  CHECK(soft_ramp(1.0, 0.1) == doctest::Approx(0.9));
  for (const double x : {-0.5, 0.05, 0.15, 0.3}) {
    check_slope([](double a) { return soft_ramp(a, 0.1); }, [](D a) { return soft_ramp(a, 0.1); }, x);
  }
  CHECK(soft_ramp(D::variable(0.2 - 1e-12, 0), 0.1).slope[0] == doctest::Approx(1.0));
  CHECK(soft_ramp(D::variable(1e-12, 0), 0.1).slope[0] == doctest::Approx(0.0));
}

TEST_CASE("soft_step: 0 to 1 with level ends") {
  CHECK(soft_step(1.0, 1, 3) == 0);
  CHECK(soft_step(2.0, 1, 3) == 0.5);
  CHECK(soft_step(3.0, 1, 3) == 1);
  CHECK(soft_step(1.5, 1, 3) == doctest::Approx(3.0 / 16 - 2.0 / 64));
  for (const double x : {0.5, 1.2, 2.0, 2.9, 4.0}) {
    check_slope([](double a) { return soft_step(a, 1, 3); }, [](D a) { return soft_step(a, 1, 3); }, x);
  }
}

TEST_CASE("soft_min: as good as the smaller one away from equality, as documented at it") {
  CHECK(soft_min(0.0, 5.0) == 0);
  CHECK(soft_min(5.0, 0.0) == 0);
  CHECK(1 - soft_min(2.0, 2.0) / 2 == doctest::Approx(0.0214).epsilon(1e-3));
  CHECK(1 - soft_min(1.0, 1.4) < 1e-6);
  CHECK(soft_min(0.1, 200.0) == 0.1);
  CHECK(soft_min(0.3, 0.2) == soft_min(0.2, 0.3));
  for (const double x : {0.05, 0.19, 0.2001, 0.21, 0.5}) {
    check_slope([](double a) { return soft_min(a, 0.2); }, [](D a) { return soft_min(a, D(0.2)); }, x);
    CHECK(soft_min(x, 0.2) <= std::min(x, 0.2));
  }
}

TEST_CASE("soft_sign: odd, within -1 and 1") {
  CHECK(soft_sign(0.0, 0.3) == 0);
  CHECK(soft_sign(0.4, 0.3) == doctest::Approx(0.8));
  CHECK(soft_sign(-0.4, 0.3) == doctest::Approx(-0.8));
  CHECK(soft_sign(100.0, 0.3) == doctest::Approx(1.0).epsilon(1e-5));
  for (const double x : {-2.0, -0.1, 0.0, 0.7}) {
    check_slope([](double a) { return soft_sign(a, 0.3); }, [](D a) { return soft_sign(a, 0.3); }, x);
  }
}
