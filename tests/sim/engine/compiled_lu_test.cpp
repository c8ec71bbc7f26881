#include "sim/engine/compiled_lu.hpp"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <limits>
#include <stdexcept>

#include "tests/models/support/random.hpp"

using namespace overwinter;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

using Places = std::vector<CompiledLu::Place>;

constexpr double epsilon = std::numeric_limits<double>::epsilon();

std::size_t columns(const MatrixXd& a) { return static_cast<std::size_t>(a.cols()); }

Places pattern_of(const MatrixXd& a) {
  Places pattern;
  for (Index i = 0; i < a.rows(); ++i) {
    for (Index j = 0; j < a.cols(); ++j) {
      if (a(i, j) != 0) pattern.emplace_back(i, j);
    }
  }
  return pattern;
}

bool factor(CompiledLu& lu, const MatrixXd& a) {
  std::vector<double> packed;
  for (const auto& [row, column] : lu.places()) packed.push_back(a(row, column));
  return lu.factor(packed.data());
}

VectorXd solved(const CompiledLu& lu, VectorXd b) {
  lu.solve(b.data());
  return b;
}

int sign_of(double number) { return number > 0 ? 1 : -1; }

/// Each entry other than zero with that probability; the diagonal always.
MatrixXd sparse(test::Random& random, Index n, double density, bool symmetric_pattern) {
  MatrixXd a = MatrixXd::Zero(n, n);
  for (Index i = 0; i < n; ++i) {
    for (Index j = 0; j <= i; ++j) {
      const bool one = random.between(0, 1) < density, other = symmetric_pattern ? one : random.between(0, 1) < density;
      if (one || i == j) a(i, j) = random.between(-1, 1);
      if (other && i != j) a(j, i) = random.between(-1, 1);
    }
  }
  return a;
}

MatrixXd two(double a, double b, double c, double d) {
  MatrixXd m(2, 2);
  m << a, b, c, d;
  return m;
}

/// Whether the first pivot of two passes, and the second, which stands alone.
bool passes(std::size_t late, const MatrixXd& a) {
  CompiledLu lu(2, late, {{0, 1}, {1, 0}});
  return factor(lu, a);
}

}  // namespace

TEST_CASE("compiled LU: where the pivots pass, solution and sign are those of Eigen's decomposition") {
  test::Random random(1);
  int passed = 0, failed = 0, positive = 0, negative = 0;
  for (int i = 0; i < 3000; ++i) {
    const Index n = 1 + random.up_to(29);
    CAPTURE(n);
    MatrixXd a = sparse(random, n, random.between(0, 0.4), i % 2 == 0);
    const Places pattern = pattern_of(a);
    // Half of the matrices lean on their diagonals, whose signs are random.
    if (i % 4 < 2) a.diagonal() *= 1 + 2 * static_cast<double>(n);
    CompiledLu lu(columns(a), static_cast<std::size_t>(random.up_to(static_cast<int>(n))), pattern);
    if (!factor(lu, a)) {
      ++failed;
      continue;
    }
    ++passed;
    const Eigen::FullPivLU<MatrixXd> reference(a);
    CHECK(lu.sign() == sign_of(reference.determinant()));
    ++(lu.sign() > 0 ? positive : negative);
    for (int right = 0; right < 2; ++right) {
      const VectorXd b = VectorXd::NullaryExpr(n, [&] { return random.between(-1, 1); });
      const VectorXd x = solved(lu, b), expected = reference.solve(b);
      // Error of a backward stable solution, Golub & Van Loan 2013, section 3.5.1; growth is 11 a step at most.
      CHECK((x - expected).norm() <= 1000 * static_cast<double>(n) * epsilon / reference.rcond() * expected.norm());
      if (i % 4 < 2) CHECK((x - expected).norm() <= 1e-12 * expected.norm());
    }
  }
  CHECK(passed > 1500);
  CHECK(failed > 300);
  CHECK(positive > 500);
  CHECK(negative > 500);
}

TEST_CASE("compiled LU: a tree is eliminated from its leaves and nothing is filled") {
  // Each unknown hangs on an earlier one, by a random number.
  test::Random random(2);
  for (const std::size_t n : {1U, 2U, 7U, 30U}) {
    Places pattern;
    for (std::uint32_t i = 1; i < n; ++i) {
      const auto parent = static_cast<std::uint32_t>(random.up_to(static_cast<int>(i) - 1));
      pattern.emplace_back(i, parent);
      pattern.emplace_back(parent, i);
    }
    CHECK(CompiledLu(n, 0, pattern).places().size() == n + pattern.size());
    CHECK(CompiledLu(n, n, pattern).places().size() == n + pattern.size());
  }
}

TEST_CASE("compiled LU: late unknowns wait, even where that fills") {
  // A star: its centre first joins all leaves.
  Places star;
  for (std::uint32_t leaf = 0; leaf < 4; ++leaf) {
    star.emplace_back(leaf, 4);
    star.emplace_back(4, leaf);
  }
  CHECK(CompiledLu(5, 0, star).places().size() == 13);
  CHECK(CompiledLu(5, 4, star).places().size() == 25);
}

TEST_CASE("compiled LU: the order of the pattern and its repetitions change nothing") {
  test::Random random(3);
  const MatrixXd a = sparse(random, 12, 0.3, true);
  Places pattern = pattern_of(a);
  const CompiledLu one(12, 5, pattern);
  std::reverse(pattern.begin(), pattern.end());
  pattern.insert(pattern.end(), pattern.begin(), pattern.begin() + 10);
  CHECK(CompiledLu(12, 5, pattern).places() == one.places());
}

TEST_CASE("compiled LU: a pivot passes from a tenth of the largest in its row, a late one also of its column") {
  for (const std::size_t late : {0U, 2U}) {
    CHECK(passes(late, two(0.11, 1, 1, 5)));
    CHECK_FALSE(passes(late, two(0.09, 1, 1, 5)));
    CHECK_FALSE(passes(late, two(-0.09, 1, -1, 5)));
    CHECK(passes(late, two(0.09, 0.5, -1, 5)));
    CHECK(passes(late, two(1e-9, 0, 1, 5)));
    CHECK(passes(late, two(-0.09, 1, 0.5, 5)) == (late == 2));
    CHECK(passes(late, two(1e-9, 1, 0, 5)) == (late == 2));
    CHECK_FALSE(passes(late, two(0, 1, 1, 5)));
    CHECK_FALSE(passes(late, two(0, 0, 0, 5)));
    CHECK_FALSE(passes(late, two(2, 4, 3, 6)));  // the second pivot is zero
  }
}

TEST_CASE("compiled LU: a refused matrix leaves an object of use") {
  CompiledLu lu(2, 0, {{0, 1}, {1, 0}});
  CHECK_FALSE(factor(lu, two(0, 1, 1, 0)));
  REQUIRE(factor(lu, two(2, 0, 0, -4)));
  CHECK(lu.sign() == -1);
  CHECK(solved(lu, Eigen::Vector2d(2, 4)) == Eigen::Vector2d(1, -1));
}

TEST_CASE("compiled LU: a number that is none or infinite is refused wherever it stands") {
  test::Random random(4);
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(),
                           -std::numeric_limits<double>::infinity()}) {
    for (Index row = 0; row < 4; ++row) {
      for (Index column = 0; column < 4; ++column) {
        CAPTURE(bad);
        CAPTURE(row);
        CAPTURE(column);
        MatrixXd full = sparse(random, 4, 1, true), lone = MatrixXd::Identity(4, 4);
        full.diagonal() *= 10;
        CompiledLu all(4, 0, pattern_of(full));
        REQUIRE(factor(all, full));
        full(row, column) = lone(row, column) = bad;
        CompiledLu few(4, 0, {{static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(column)}});
        CHECK_FALSE(factor(all, full));
        CHECK_FALSE(factor(few, lone));
      }
    }
  }
}

TEST_CASE("compiled LU: places outside the matrix or the pattern are an error of the caller") {
  CHECK_THROWS_AS(CompiledLu(2, 0, {{0, 2}}), std::out_of_range);
  const CompiledLu lu(3, 0, {{0, 1}});
  CHECK(lu.places()[lu.index(0, 1)] == CompiledLu::Place(0, 1));
  CHECK(lu.places()[lu.index(2, 2)] == CompiledLu::Place(2, 2));
  CHECK_THROWS_AS(lu.index(1, 0), std::out_of_range);
}
