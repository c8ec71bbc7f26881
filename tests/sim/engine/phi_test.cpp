#include "sim/engine/phi.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace overwinter;

namespace {

/// phi_k by the series of its integral with e^(-s z) expanded, in which every term is positive for z <= 0:
/// phi_k(z) = e^z sum over n of (-z)^n / (n! (n + k) (k - 1)!).
long double reference(int k, long double z) {
  if (k == 0) return std::exp(z);
  long double sum = 0, term = 1, factorial = 1;
  for (int i = 2; i < k; ++i) factorial *= i;
  for (int n = 0; n < 2000; ++n) {
    sum += term / (n + k);
    term *= -z / (n + 1);
    if (term < 1e-25L * sum) break;
  }
  return std::exp(z) * sum / factorial;
}

}  // namespace

TEST_CASE("the phi functions agree with their integrals, near zero and far from it") {
  for (double z = -1e-18; z > -700; z *= 1.21) {
    const Phi p = phi(z);
    for (int k = 0; k <= 5; ++k) {
      CAPTURE(z);
      CAPTURE(k);
      const long double expected = reference(k, static_cast<long double>(z));
      // A few units of the last place; of 1 where the exponential is next to nothing.
      const long double error = std::abs(p[static_cast<std::size_t>(k)] - expected);
      CHECK(error <= (k == 0 ? 4e-16L : 2e-14L * expected));
    }
  }
}

TEST_CASE("at zero they are the inverse factorials, and on both sides of the change of method they agree") {
  CHECK(phi(0) == phi_of_zero);
  double factorial = 1;
  for (std::size_t k = 0; k < phi_of_zero.size(); ++k) {
    factorial *= k > 0 ? static_cast<double>(k) : 1;
    CHECK(phi_of_zero[k] == doctest::Approx(1 / factorial).epsilon(1e-15));
  }
  const Phi series = phi(std::nextafter(-1.5, 0)), recursion = phi(-1.5);
  for (std::size_t k = 0; k < series.size(); ++k) CHECK(std::abs(series[k] / recursion[k] - 1) < 2e-14);
}
