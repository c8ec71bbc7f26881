// Solves a model's internal unknowns with its pin voltages held.
#pragma once

#include <Eigen/Dense>

#include "tests/models/support/alone.hpp"

namespace overwinter::test {

/// Newton's method, each step halved until the residual falls. True once every residual is below `tolerance` (V or A).
inline bool solve_unknowns(Alone& part, double tolerance = 1e-13) {
  const std::size_t pins = part.table.pins.size(), unknowns = part.table.unknowns.size(), width = part.width();
  const auto residual = [&] {
    const std::vector<double> f = part.currents();
    double worst = 0;
    for (std::size_t i = pins; i < width; ++i) worst = std::max(worst, std::abs(f[i]));
    return worst;
  };
  double now = residual();
  for (int iteration = 0; iteration < 500 && now > tolerance; ++iteration) {
    const std::vector<double> f = part.currents(), j = part.jacobian(), from = part.z;
    Eigen::MatrixXd matrix(unknowns, unknowns);
    Eigen::VectorXd right(unknowns);
    for (std::size_t r = 0; r < unknowns; ++r) {
      right[static_cast<Eigen::Index>(r)] = -f[pins + r];
      for (std::size_t c = 0; c < unknowns; ++c) {
        matrix(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c)) = j[(pins + r) * width + pins + c];
      }
    }
    const Eigen::VectorXd step = matrix.fullPivLu().solve(right);
    double share = 1, after = now;
    for (; share > 1e-9; share /= 2) {
      for (std::size_t r = 0; r < unknowns; ++r)
        part.z[pins + r] = from[pins + r] + share * step[static_cast<Eigen::Index>(r)];
      after = residual();
      if (after < now) break;
    }
    if (!(after < now)) {
      part.z = from;
      break;
    }
    now = after;
  }
  return now <= tolerance;
}

}  // namespace overwinter::test
