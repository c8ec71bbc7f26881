#include "sim/weather/random.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace overwinter;

TEST_CASE("a seed and a stream fix the numbers") {
  Random a(7, 1), b(7, 1), other_stream(7, 2), other_seed(8, 1), high_word(7 + (1ULL << 40), 1);
  const double first = a.uniform();
  CHECK(first == b.uniform());
  CHECK(first != other_stream.uniform());
  CHECK(first != other_seed.uniform());
  CHECK(first != high_word.uniform());
}

// 100 000 draws: the standard error of the mean is 0.0009 and 0.003.
TEST_CASE("uniform and normal numbers have their moments") {
  Random random(1, 1);
  double mean = 0, square = 0, normal_mean = 0, normal_square = 0, fourth = 0;
  constexpr int n = 100'000;
  for (int i = 0; i < n; ++i) {
    const double u = random.uniform(), z = random.normal();
    REQUIRE(u >= 0);
    REQUIRE(u < 1);
    mean += u / n;
    square += u * u / n;
    normal_mean += z / n;
    normal_square += z * z / n;
    fourth += z * z * z * z / n;
  }
  CHECK(std::abs(mean - 0.5) < 0.004);
  CHECK(std::abs(square - 1.0 / 3) < 0.004);
  CHECK(std::abs(normal_mean) < 0.015);
  CHECK(std::abs(normal_square - 1) < 0.02);
  CHECK(std::abs(fourth - 3) < 0.15);
}
