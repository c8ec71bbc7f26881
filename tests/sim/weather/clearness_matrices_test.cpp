#include "sim/weather/clearness_matrices.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numeric>

using namespace overwinter;

TEST_CASE("every row of every matrix is a distribution, but for rounding to thousandths") {
  for (const ClearnessClass& c : clearness_classes) {
    CHECK(c.least < c.greatest);
    for (const auto& row : c.thousandths) {
      CHECK(std::abs(std::accumulate(row.begin(), row.end(), 0) - 1000) <= 3);
    }
  }
}

// Stationary means computed by others from the same tables: 0.242, 0.334, 0.375, 0.428, 0.476, 0.526, 0.575, 0.621,
// 0.668, 0.728. Tolerance 0.002 (theirs are simulated); a slipped digit moves a mean by more.
TEST_CASE("stationary means of the classes") {
  constexpr std::array<double, 10> expected{0.242, 0.334, 0.375, 0.428, 0.476, 0.526, 0.575, 0.621, 0.668, 0.728};
  for (std::size_t i = 0; i < 10; ++i) {
    CAPTURE(i);
    const ClearnessClass& c = clearness_classes[i];
    std::array<double, 10> share;
    share.fill(0.1);
    for (int step = 0; step < 2000; ++step) {
      std::array<double, 10> next{};
      for (std::size_t from = 0; from < 10; ++from) {
        const double total = std::accumulate(c.thousandths[from].begin(), c.thousandths[from].end(), 0.0);
        for (std::size_t to = 0; to < 10; ++to) next[to] += share[from] * c.thousandths[from][to] / total;
      }
      share = next;
    }
    double mean = 0;
    for (std::size_t s = 0; s < 10; ++s) {
      mean += share[s] * (c.least + (c.greatest - c.least) * (static_cast<double>(s) + 0.5) / 10);
    }
    CHECK(std::abs(mean - expected[i]) < 0.002);
  }
}
