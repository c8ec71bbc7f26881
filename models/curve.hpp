// Tabulated functions of one and two variables, as datasheets print them.
#pragma once

#include <algorithm>
#include <array>
#include <string>
#include <vector>

namespace overwinter {

/// How values between the points are found.
enum class Interpolation {
  linear,    ///< straight lines
  monotone,  ///< C1 cubic that keeps the data's monotony (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17(2), 238-246)
  step,      ///< the value of the last point not above the argument
};

/// What happens beyond the first and the last point.
enum class Outside {
  hold,    ///< the end value continues
  extend,  ///< a straight line with the end slope continues
};

std::string name_of(Interpolation);
std::string name_of(Outside);

/// y(x) through points with strictly rising x, in SI units. Immutable.
class Curve {
 public:
  Curve() = default;
  /// Throws std::invalid_argument with a plain reason when the points are unusable (fewer than one, unequal lengths,
  /// not finite, x not strictly rising).
  Curve(std::vector<double> x, std::vector<double> y, Interpolation, Outside);

  bool empty() const { return x_.empty(); }
  double operator()(double x) const {
    if (x < x_.front()) return y_.front() + left_slope_ * (x - x_.front());
    if (x >= x_.back()) return y_.back() + right_slope_ * (x - x_.back());
    const std::size_t i = segment(x);
    const double t = x - x_[i];
    const Cubic& c = cubic_[i];
    return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
  }
  double slope(double x) const;
  /// Integral of y dx from the first point to x in closed form (negative left of it).
  double integral(double x) const;

  const std::vector<double>& x() const { return x_; }
  const std::vector<double>& y() const { return y_; }
  Interpolation interpolation() const { return interpolation_; }
  Outside outside() const { return outside_; }

 private:
  /// The one in which x lies, which is not outside.
  std::size_t segment(double x) const {
    return static_cast<std::size_t>(std::upper_bound(x_.begin(), x_.end(), x) - x_.begin()) - 1;
  }
  /// Coefficients of y = c0 + c1 t + c2 t^2 + c3 t^3 on a segment, t counted from its left point.
  using Cubic = std::array<double, 4>;

  std::vector<double> x_, y_;
  std::vector<Cubic> cubic_;
  std::vector<double> area_;  ///< integral from the first point to each point
  double left_slope_ = 0, right_slope_ = 0;
  Interpolation interpolation_ = Interpolation::linear;
  Outside outside_ = Outside::hold;
};

/// z(x, y) on a rectangular grid, bilinear between the points, end values held outside. SI units. Immutable.
class Map {
 public:
  Map() = default;
  /// `z` has one row per x and one column per y. Throws std::invalid_argument with a plain reason.
  Map(std::vector<double> x, std::vector<double> y, std::vector<std::vector<double>> z);

  bool empty() const { return x_.empty(); }
  double operator()(double x, double y) const;
  const std::vector<double>& x() const { return x_; }
  const std::vector<double>& y() const { return y_; }
  const std::vector<std::vector<double>>& z() const { return z_; }

 private:
  std::vector<double> x_, y_;
  std::vector<std::vector<double>> z_;
};

}  // namespace overwinter
