#include "models/dual.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {
using D = Dual<2>;
const D x = D::variable(3.0, 0), y = D::variable(-2.0, 1);

void check(const D& f, double value, double by_x, double by_y) {
  CHECK(f.value == doctest::Approx(value).epsilon(1e-14));
  CHECK(f.slope[0] == doctest::Approx(by_x).epsilon(1e-14));
  CHECK(f.slope[1] == doctest::Approx(by_y).epsilon(1e-14));
}
}  // namespace

TEST_CASE("dual numbers: a variable has slope 1 for itself, a constant none") {
  check(x, 3, 1, 0);
  check(y, -2, 0, 1);
  check(D(7.0), 7, 0, 0);
}

TEST_CASE("dual numbers: the four operations") {
  check(x + y, 1, 1, 1);
  check(x - y, 5, 1, -1);
  check(-x, -3, -1, 0);
  check(x * y, -6, -2, 3);
  check(x / y, -1.5, -0.5, -0.75);
  check(2.0 * x + 1.0, 7, 2, 0);
  check(1.0 / x, 1.0 / 3, -1.0 / 9, 0);
}

TEST_CASE("dual numbers: functions") {
  check(exp(x * y), std::exp(-6.0), -2 * std::exp(-6.0), 3 * std::exp(-6.0));
  check(sqrt(x + 1.0), 2, 0.25, 0);
}

TEST_CASE("dual numbers: comparisons look at the value alone") {
  CHECK(y < x);
  CHECK(x > y);
  CHECK_FALSE(x < D(3.0));
  CHECK(value_of(x) == 3.0);
  CHECK(value_of(4.0) == 4.0);
}
