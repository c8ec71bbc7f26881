#include "sim/engine/small_lu.hpp"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <limits>
#include <numeric>

#include "tests/models/support/random.hpp"

using namespace overwinter;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double epsilon = std::numeric_limits<double>::epsilon();

MatrixXd random_matrix(test::Random& random, Index n) {
  return MatrixXd::NullaryExpr(n, n, [&] { return random.between(-1, 1); });
}
VectorXd random_vector(test::Random& random, Index n) {
  return VectorXd::NullaryExpr(n, [&] { return random.between(-1, 1); });
}
bool factor(SmallLu& lu, const MatrixXd& a) { return lu.factor(a.data(), static_cast<std::size_t>(a.rows())); }
VectorXd solved(const SmallLu& lu, VectorXd b) {
  lu.solve(b.data());
  return b;
}
int sign_of(double number) { return number > 0 ? 1 : -1; }

}  // namespace

TEST_CASE("small LU: solution and sign of the determinant are those of Eigen's decomposition") {
  test::Random random(1);
  SmallLu lu;  // one object for all sizes
  for (int i = 0; i < 2000; ++i) {
    const Index n = 1 + random.up_to(29);
    CAPTURE(n);
    const MatrixXd a = random_matrix(random, n);
    const Eigen::FullPivLU<MatrixXd> reference(a);
    REQUIRE(factor(lu, a));
    CHECK(lu.sign() == sign_of(reference.determinant()));
    for (int right = 0; right < 2; ++right) {
      const VectorXd b = random_vector(random, n), x = solved(lu, b), expected = reference.solve(b);
      // Error of a backward stable solution: Golub & Van Loan 2013, section 3.5.1; the growth of pivots is small.
      CHECK((x - expected).norm() <= 100 * static_cast<double>(n) * epsilon / reference.rcond() * expected.norm());
      CHECK((a * x - b).norm() <= 100 * static_cast<double>(n) * epsilon * a.norm() * x.norm());
    }
  }
}

TEST_CASE("small LU: sparse matrices, whose zeros are passed over") {
  test::Random random(2);
  SmallLu lu;
  int regular = 0;
  for (int i = 0; i < 2000; ++i) {
    const Index n = 2 + random.up_to(28);
    MatrixXd a = random_matrix(random, n);
    for (Index k = 0; k < n * n; ++k) {
      if (random.up_to(3) > 0 && k % (n + 1) != 0) a.data()[k] = 0;
    }
    const Eigen::FullPivLU<MatrixXd> reference(a);
    if (reference.rcond() < 1e-10) continue;
    ++regular;
    REQUIRE(factor(lu, a));
    CHECK(lu.sign() == sign_of(reference.determinant()));
    const VectorXd b = random_vector(random, n), x = solved(lu, b);
    CHECK((a * x - b).norm() <= 100 * static_cast<double>(n) * epsilon * a.norm() * x.norm());
  }
  CHECK(regular > 1500);
}

TEST_CASE("small LU: systems with a known solution") {
  SmallLu lu;
  MatrixXd a(2, 2);
  a << 0, 2, 4, 1;  // needs the exchange of its rows
  REQUIRE(factor(lu, a));
  CHECK(lu.sign() == -1);
  CHECK(solved(lu, Eigen::Vector2d(6, 11)) == Eigen::Vector2d(2, 3));
  const double minus_three = -3;
  REQUIRE(lu.factor(&minus_three, 1));
  CHECK(lu.sign() == -1);
  double b = 6;
  lu.solve(&b);
  CHECK(b == -2);
}

TEST_CASE("small LU: rows as different in size as siemens and nanosiemens") {
  test::Random random(2);
  SmallLu lu;
  for (int i = 0; i < 500; ++i) {
    const Index n = 2 + random.up_to(18);
    const MatrixXd well = random_matrix(random, n) + 3 * static_cast<double>(n) * MatrixXd::Identity(n, n);
    const VectorXd scale = VectorXd::NullaryExpr(n, [&] { return std::pow(10, random.between(-9, 3)); });
    const VectorXd x = random_vector(random, n);
    REQUIRE(factor(lu, scale.asDiagonal() * well));
    CHECK(lu.sign() == 1);  // all eigenvalues in the right half plane: Gershgorin
    CHECK((solved(lu, scale.asDiagonal() * (well * x)) - x).norm() <= 1e-12 * x.norm());
  }
}

TEST_CASE("small LU: every permutation of four rows has its parity and undoes itself") {
  std::vector<int> order(4);
  std::iota(order.begin(), order.end(), 0);
  int odd = 0, all = 0;
  do {
    MatrixXd a = MatrixXd::Zero(4, 4);
    int inversions = 0;
    for (int i = 0; i < 4; ++i) {
      a(order[static_cast<std::size_t>(i)], i) = 1;
      for (int j = 0; j < i; ++j) {
        inversions += order[static_cast<std::size_t>(j)] > order[static_cast<std::size_t>(i)] ? 1 : 0;
      }
    }
    SmallLu lu;
    REQUIRE(factor(lu, a));
    CHECK(lu.sign() == (inversions % 2 ? -1 : 1));
    const Eigen::Vector4d x(1, 2, 3, 4);
    CHECK(solved(lu, a * x) == x);
    odd += inversions % 2;
    ++all;
  } while (std::next_permutation(order.begin(), order.end()));
  CHECK(all == 24);
  CHECK(odd == 12);
}

TEST_CASE("small LU: negative rows and exchanges multiply their signs") {
  test::Random random(3);
  for (int i = 0; i < 500; ++i) {
    const Index n = 1 + random.up_to(11);
    Eigen::PermutationMatrix<Eigen::Dynamic> exchange(n);
    exchange.setIdentity();
    int sign = 1;
    for (int k = 0; k < 5; ++k) {
      const Index one = random.up_to(static_cast<int>(n) - 1), other = random.up_to(static_cast<int>(n) - 1);
      if (one == other) continue;
      exchange.applyTranspositionOnTheRight(one, other);
      sign = -sign;
    }
    VectorXd diagonal = VectorXd::NullaryExpr(n, [&] { return random.between(0.1, 2); });
    for (Index k = 0; k < n; ++k) {
      if (random.up_to(1) == 0) continue;
      diagonal[k] = -diagonal[k];
      sign = -sign;
    }
    SmallLu lu;
    REQUIRE(factor(lu, exchange * MatrixXd(diagonal.asDiagonal())));
    CHECK(lu.sign() == sign);
  }
}

TEST_CASE("small LU: singular matrices are refused") {
  SmallLu lu;
  CHECK_FALSE(factor(lu, MatrixXd::Zero(1, 1)));
  CHECK_FALSE(factor(lu, MatrixXd::Zero(5, 5)));
  MatrixXd a(3, 3);
  a << 1, 2, 4, 2, 4, 8, 3, 1, 5;  // exact in binary: the second row is twice the first
  CHECK_FALSE(factor(lu, a));
  CHECK_FALSE(factor(lu, a.transpose()));
  test::Random random(4);
  for (Index gap = 0; gap < 6; ++gap) {
    MatrixXd column = random_matrix(random, 6), row = random_matrix(random, 6);
    column.col(gap).setZero();
    row.row(gap).setZero();
    CHECK_FALSE(factor(lu, column));
    CHECK_FALSE(factor(lu, row));
  }
  CHECK(factor(lu, MatrixXd::Identity(3, 3)));  // and is of use again afterwards
  CHECK(lu.sign() == 1);
}

TEST_CASE("small LU: a number that is none or infinite is refused wherever it stands") {
  test::Random random(5);
  SmallLu lu;
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(),
                           -std::numeric_limits<double>::infinity()}) {
    for (Index row = 0; row < 4; ++row) {
      for (Index column = 0; column < 4; ++column) {
        CAPTURE(bad);
        CAPTURE(row);
        CAPTURE(column);
        MatrixXd full = random_matrix(random, 4), sparse = MatrixXd::Identity(4, 4);
        full(row, column) = sparse(row, column) = bad;
        CHECK_FALSE(factor(lu, full));
        CHECK_FALSE(factor(lu, sparse));
      }
    }
  }
}
