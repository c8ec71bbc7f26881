#include "sim/engine/modes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace overwinter;
using Vector = std::vector<double>;

namespace {

// Two capacitors C0 and C1 joined by a conductance G, C1 with a leakage L besides:
//   C0 x0' = G (x1 - x0), C1 x1' = G (x0 - x1) - L x1
constexpr double c0 = 470e-6, c1 = 100e-6, g = 0.5, l = 1e-4;
Vector joined() { return {-g / c0, g / c0, g / c1, -(g + l) / c1}; }

}  // namespace

TEST_CASE("modes (1): each decays on its own, with the roots of the characteristic polynomial") {
  Modes modes;
  REQUIRE(modes.take({1, 3}, joined(), {1, 1, 1, 1, 1}));
  CHECK(modes.any());
  CHECK(modes.states() == std::vector<std::size_t>{1, 3});
  const double trace = -(g / c0 + (g + l) / c1), determinant = g * l / (c0 * c1);
  const double fast = -trace / 2 + std::sqrt(trace * trace / 4 - determinant), slow = determinant / fast;
  CHECK(std::max(modes.rate(0), modes.rate(1)) == doctest::Approx(fast).epsilon(1e-9));
  CHECK(std::min(modes.rate(0), modes.rate(1)) == doctest::Approx(slow).epsilon(1e-6));

  // J x turned into modes is -rate y; what is no mode stays.
  Vector x = {7, 3, 8, 2, 9}, f = {0, g / c0 * (2 - 3), 0, g / c1 * (3 - 2) - l / c1 * 2, 0};
  const Vector before = x;
  modes.to_modes(x);
  modes.to_modes(f);
  CHECK(f[1] == doctest::Approx(-modes.rate(0) * x[1]).epsilon(1e-6));
  CHECK(f[3] == doctest::Approx(-modes.rate(1) * x[3]).epsilon(1e-6));
  modes.to_states(x);
  for (std::size_t i = 0; i < x.size(); ++i) CHECK(x[i] == doctest::Approx(before[i]).epsilon(1e-12));
  modes.drop();
  CHECK_FALSE(modes.any());
}

TEST_CASE("modes: the tolerance of one leads no state further off than its own") {
  for (const double other : {1e-6, 1.0, 1e4}) {
    Modes modes;
    const Vector tolerances = {1, other};
    REQUIRE(modes.take({0, 1}, joined(), tolerances));
    for (std::size_t k = 0; k < 2; ++k) {
      Vector y = {0, 0};
      y[k] = tolerances[k];
      modes.to_states(y);
      CHECK(std::abs(y[0]) <= tolerances[0] * (1 + 1e-12));
      CHECK(std::abs(y[1]) <= tolerances[1] * (1 + 1e-12));
    }
  }
}

TEST_CASE("modes: what does not move is none, what grows has no rate, what turns or is one with another is refused") {
  Modes modes;
  REQUIRE(modes.take({0, 1, 2}, {0, 0, 0, 0, -2, 1, 0, 0, 3}, {1, 1, 1}));
  CHECK(modes.states() == std::vector<std::size_t>{1, 2});
  CHECK(std::max(modes.rate(0), modes.rate(1)) == doctest::Approx(2));
  CHECK(std::min(modes.rate(0), modes.rate(1)) == 0);
  CHECK_FALSE(modes.take({0, 1}, {0, 1, -1, 0}, {1, 1}));   // an oscillation
  CHECK_FALSE(modes.take({0, 1}, {-1, 1, 0, -1}, {1, 1}));  // only one direction
  CHECK_FALSE(modes.take({0, 1}, {-1, 0, 0, 0}, {1, 1}));   // alone
  CHECK_FALSE(modes.take({0, 1}, {-1, std::nan(""), 0, -2}, {1, 1}));
  CHECK_FALSE(modes.any());
}
