#include "models/reading.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <vector>

using namespace overwinter;

namespace {

std::vector<double> numbers(std::uint64_t seed, std::uint64_t from, std::size_t count) {
  std::vector<double> all(count);
  for (std::size_t i = 0; i < count; ++i) all[i] = normal_number(seed, from + i);
  return all;
}

double mean_of_products(const std::vector<double>& a, const std::vector<double>& b, std::size_t lag) {
  double sum = 0;
  for (std::size_t i = 0; i + lag < a.size(); ++i) sum += a[i] * b[i + lag];
  return sum / static_cast<double>(a.size() - lag);
}

double moment(const std::vector<double>& a, int power) {
  double sum = 0;
  for (const double x : a) sum += std::pow(x, power);
  return sum / static_cast<double>(a.size());
}

constexpr std::size_t many = 100'000;
const double standard_error = 1 / std::sqrt(double(many));

}  // namespace

TEST_CASE("reading (2): rounded to the nearest step, of both signs") {
  const auto read = [](double volts) { return Reading{volts, 0, 0.25, 1}.read(0); };
  CHECK(read(3.7) == 3.75);
  CHECK(read(3.6) == 3.5);
  CHECK(read(3.625) == 3.75);
  CHECK(read(0.1) == 0);
  CHECK(read(-0.1) == 0);
  CHECK(read(-0.2) == -0.25);
}

TEST_CASE("reading (2): noise comes before the rounding, and scales with its rms") {
  CHECK(Reading{3.7, 0.1, 0, 1}.read(2) == doctest::Approx(3.9).epsilon(1e-15));
  CHECK(Reading{3.7, 0.1, 0, 1}.read(-2) == doctest::Approx(3.5).epsilon(1e-15));
  CHECK(Reading{3.7, 0.1, 0.25, 1}.read(2) == 4.0);
  CHECK(Reading{3.7, 0, 0, 1}.read(5) == 3.7);
}

TEST_CASE("reading: travels over a line and comes back") {
  double line[Reading::width + 1] = {0, 0, 0, 0, 77};
  Reading{3.7, 0.01, 0.004, 12}.to(line);
  const Reading back = Reading::from(line);
  CHECK(back.shown == 3.7);
  CHECK(back.noise == 0.01);
  CHECK(back.step == 0.004);
  CHECK(back.seed == 12);
  CHECK(line[4] == 77);
}

TEST_CASE("normal numbers depend on seed and place only") {
  const std::vector<double> forward = numbers(5, 0, 100);
  for (std::size_t i = 100; i-- > 0;) CHECK(normal_number(5, i) == forward[i]);
  CHECK(numbers(6, 0, 100) != forward);
  CHECK(numbers(5, 1, 100) != forward);
}

// Standard errors of the sample moments of a normal distribution: 1, sqrt(2), sqrt(15), sqrt(96) over sqrt(n) for the
// first, second, third and fourth raw moment (Kenney & Keeping 1951, Mathematics of Statistics, part 2).
TEST_CASE("normal numbers: moments within four standard errors") {
  for (const std::uint64_t seed : {0ull, 1ull, 2ull, 1'000'000'000ull}) {
    CAPTURE(seed);
    const std::vector<double> sample = numbers(seed, 1, many);
    CHECK(std::abs(moment(sample, 1)) < 4 * standard_error);
    CHECK(std::abs(moment(sample, 2) - 1) < 4 * std::sqrt(2.0) * standard_error);
    CHECK(std::abs(moment(sample, 3)) < 4 * std::sqrt(15.0) * standard_error);
    CHECK(std::abs(moment(sample, 4) - 3) < 4 * std::sqrt(96.0) * standard_error);
  }
}

// Massey 1951, J. Am. Stat. Assoc. 46, 68-78: 1.63 / sqrt(n) is exceeded once in a hundred.
TEST_CASE("normal numbers: the distribution passes a Kolmogorov-Smirnov test at 1 %") {
  const boost::math::normal normal;
  for (const std::uint64_t seed : {1ull, 7ull}) {
    std::vector<double> sample = numbers(seed, 1, many);
    std::sort(sample.begin(), sample.end());
    double worst = 0;
    for (std::size_t i = 0; i < many; ++i) {
      const double expected = boost::math::cdf(normal, sample[i]);
      worst = std::max({worst, std::abs(expected - double(i) / many), std::abs(expected - double(i + 1) / many)});
    }
    CHECK(worst < 1.63 * standard_error);
  }
}

TEST_CASE("normal numbers: neighbours, and sequences of neighbouring seeds, do not go together") {
  const std::vector<double> first = numbers(1, 1, many), second = numbers(2, 1, many);
  for (const std::size_t lag : {1u, 2u, 3u, 24u})
    CHECK(std::abs(mean_of_products(first, first, lag)) < 4 * standard_error);
  for (const std::size_t lag : {0u, 1u, 2u}) CHECK(std::abs(mean_of_products(first, second, lag)) < 4 * standard_error);
}

TEST_CASE("normal numbers: neighbours are independent, not only uncorrelated") {
  const std::vector<double> plain = numbers(1, 1, many);
  std::vector<double> excess = plain;  // mean 0, variance 2
  for (double& x : excess) x = x * x - 1;
  for (const std::size_t lag : {1u, 2u, 3u}) {
    CHECK(std::abs(mean_of_products(plain, excess, lag)) < 4 * std::sqrt(2.0) * standard_error);
    CHECK(std::abs(mean_of_products(excess, plain, lag)) < 4 * std::sqrt(2.0) * standard_error);
    CHECK(std::abs(mean_of_products(excess, excess, lag)) < 4 * 2.0 * standard_error);
  }
}
