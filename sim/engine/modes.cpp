#include "sim/engine/modes.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr double real = 1e-9;       // of the fastest rate: an imaginary part, of rounding
constexpr double told_apart = 1e6;  // the largest entry of the inverse

}  // namespace

bool Modes::take(const std::vector<std::size_t>& states, const std::vector<double>& jacobian,
                 const std::vector<double>& tolerances) {
  drop();
  const std::size_t all = states.size();
  std::vector<std::size_t> moving;  // what nothing moves is no mode
  for (std::size_t i = 0; i < all; ++i) {
    const auto row = jacobian.begin() + static_cast<std::ptrdiff_t>(i * all);
    if (std::any_of(row, row + static_cast<std::ptrdiff_t>(all), [](double d) { return d != 0; })) moving.push_back(i);
  }
  const auto n = static_cast<Eigen::Index>(moving.size());
  if (n < 2) return false;
  const auto tolerance = [&](Eigen::Index i) { return tolerances[states[moving[static_cast<std::size_t>(i)]]]; };
  Eigen::MatrixXd j(n, n);  // in units of the tolerances
  for (Eigen::Index r = 0; r < n; ++r) {
    for (Eigen::Index c = 0; c < n; ++c) {
      j(r, c) = jacobian[moving[static_cast<std::size_t>(r)] * all + moving[static_cast<std::size_t>(c)]] *
                tolerance(c) / tolerance(r);
    }
  }
  if (!j.allFinite()) return false;
  const Eigen::EigenSolver<Eigen::MatrixXd> solver(j);
  if (solver.info() != Eigen::Success) return false;
  const Eigen::VectorXcd& values = solver.eigenvalues();
  const double fastest = values.cwiseAbs().maxCoeff();
  if (values.imag().cwiseAbs().maxCoeff() > real * fastest) return false;
  Eigen::MatrixXd v = solver.eigenvectors().real();
  for (Eigen::Index k = 0; k < n; ++k) v.col(k) /= v.col(k).cwiseAbs().maxCoeff();
  const Eigen::MatrixXd inverse = v.inverse();
  if (!inverse.allFinite() || inverse.cwiseAbs().maxCoeff() > told_apart) return false;
  vectors_.resize(n, n);
  inverse_.resize(n, n);
  rate_.clear();
  for (Eigen::Index r = 0; r < n; ++r) {
    states_.push_back(states[moving[static_cast<std::size_t>(r)]]);
    rate_.push_back(std::max(0.0, -values.real()(r)));
    for (Eigen::Index c = 0; c < n; ++c) {
      vectors_(r, c) = v(r, c) * tolerance(r) / tolerance(c);
      inverse_(r, c) = inverse(r, c) * tolerance(r) / tolerance(c);
    }
  }
  return true;
}

void Modes::turn(const Eigen::MatrixXd& by, std::vector<double>& x) const {
  if (states_.empty()) return;
  const auto n = static_cast<Eigen::Index>(states_.size());
  Eigen::VectorXd before(n);
  for (Eigen::Index i = 0; i < n; ++i) before(i) = x[states_[static_cast<std::size_t>(i)]];
  const Eigen::VectorXd after = by * before;
  for (Eigen::Index i = 0; i < n; ++i) x[states_[static_cast<std::size_t>(i)]] = after(i);
}

}  // namespace overwinter
