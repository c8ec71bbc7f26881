// Stores in contact, each seen by itself, relax at a rate that no one of them has: what flows from one into the other
// moves both. Their modes do: in the directions of the eigenvectors of the rates' derivatives by the states,
//   (1) dx/dt = f, J = df/dx = V diag(-rate) V^-1, y = V^-1 x: dy/dt = -rate y + N
// every one decays on its own (textbook: diagonalisation of a linear system). Between capacitors that are joined by
// resistances the rates are real, for J is similar to a symmetric matrix there.
#pragma once

#include <Eigen/Dense>
#include <cstddef>
#include <vector>

namespace overwinter {

class Modes {
 public:
  /// Of those states (places in a vector of the system), with that J row by row. `tolerances`, of the whole vector: an
  /// error of mode k by that of states[k] leads no state further off than its own. False, and none, where J has no real
  /// modes, or the directions of two are hardly to be told apart.
  bool take(const std::vector<std::size_t>& states, const std::vector<double>& jacobian,
            const std::vector<double>& tolerances);
  void drop() { states_.clear(); }
  bool any() const { return !states_.empty(); }

  /// The states that are led in modes: mode k stands in the place of the k-th.
  const std::vector<std::size_t>& states() const { return states_; }
  /// 1/s, of mode k; 0 for one that does not decay.
  double rate(std::size_t k) const { return rate_[k]; }
  /// x -> y and back, in place; what is no mode stays.
  void to_modes(std::vector<double>& x) const { turn(inverse_, x); }
  void to_states(std::vector<double>& y) const { turn(vectors_, y); }

 private:
  void turn(const Eigen::MatrixXd&, std::vector<double>&) const;

  std::vector<std::size_t> states_;
  std::vector<double> rate_;
  Eigen::MatrixXd vectors_, inverse_;
};

}  // namespace overwinter
