#include "models/curve.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace overwinter {

namespace {

void require_axis(const std::vector<double>& axis, const char* which) {
  if (axis.empty()) throw std::invalid_argument(std::string("it has no ") + which + " values");
  for (std::size_t i = 0; i < axis.size(); ++i) {
    if (!std::isfinite(axis[i]))
      throw std::invalid_argument(std::string("a ") + which + " value is not a finite number");
    if (i > 0 && !(axis[i] > axis[i - 1])) {
      throw std::invalid_argument(std::string("the ") + which +
                                  " values must rise strictly from point to point (point " + std::to_string(i + 1) +
                                  " does not)");
    }
  }
}

/// End-point and inner slopes after Fritsch & Carlson: the weighted harmonic mean of the neighbouring secants, zero at
/// a local extremum; at the ends the secant itself.
std::vector<double> monotone_slopes(const std::vector<double>& x, const std::vector<double>& y) {
  const std::size_t n = x.size();
  std::vector<double> slope(n, 0.0);
  if (n < 2) return slope;
  const auto secant = [&](std::size_t i) { return (y[i + 1] - y[i]) / (x[i + 1] - x[i]); };
  slope.front() = secant(0);
  slope.back() = secant(n - 2);
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double before = secant(i - 1), after = secant(i);
    if (before * after <= 0) continue;
    const double h0 = x[i] - x[i - 1], h1 = x[i + 1] - x[i];
    const double w0 = 2 * h1 + h0, w1 = h1 + 2 * h0;
    slope[i] = (w0 + w1) / (w0 / before + w1 / after);
  }
  return slope;
}

}  // namespace

std::string name_of(Interpolation i) {
  switch (i) {
    case Interpolation::linear:
      return "linear";
    case Interpolation::monotone:
      return "monotone cubic";
    case Interpolation::step:
      return "step";
  }
  return {};
}

std::string name_of(Outside o) { return o == Outside::hold ? "end values held" : "end slopes extended"; }

Curve::Curve(std::vector<double> x, std::vector<double> y, Interpolation interpolation, Outside outside)
    : x_(std::move(x)), y_(std::move(y)), interpolation_(interpolation), outside_(outside) {
  require_axis(x_, "x");
  if (x_.size() != y_.size()) {
    throw std::invalid_argument("it has " + std::to_string(x_.size()) + " x values but " + std::to_string(y_.size()) +
                                " y values");
  }
  for (const double value : y_) {
    if (!std::isfinite(value)) throw std::invalid_argument("a y value is not a finite number");
  }
  const std::size_t n = x_.size();
  const std::vector<double> slope =
      interpolation_ == Interpolation::monotone ? monotone_slopes(x_, y_) : std::vector<double>(n, 0.0);
  area_.assign(n, 0.0);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const double h = x_[i + 1] - x_[i], secant = (y_[i + 1] - y_[i]) / h;
    Cubic c{y_[i], 0, 0, 0};
    if (interpolation_ == Interpolation::linear) c[1] = secant;
    if (interpolation_ == Interpolation::monotone) {
      c[1] = slope[i];
      c[2] = (3 * secant - 2 * slope[i] - slope[i + 1]) / h;
      c[3] = (slope[i] + slope[i + 1] - 2 * secant) / (h * h);
    }
    cubic_.push_back(c);
    area_[i + 1] = area_[i] + h * (c[0] + h * (c[1] / 2 + h * (c[2] / 3 + h * c[3] / 4)));
  }
  if (outside_ == Outside::extend && n > 1 && interpolation_ != Interpolation::step) {
    const double h = x_[n - 1] - x_[n - 2];
    left_slope_ = cubic_.front()[1];
    right_slope_ = cubic_.back()[1] + h * (2 * cubic_.back()[2] + h * 3 * cubic_.back()[3]);
  }
}

double Curve::slope(double x) const {
  if (x < x_.front()) return left_slope_;
  if (x >= x_.back()) return right_slope_;
  const std::size_t i = segment(x);
  const double t = x - x_[i];
  const Cubic& c = cubic_[i];
  return c[1] + t * (2 * c[2] + t * 3 * c[3]);
}

double Curve::integral(double x) const {
  if (x < x_.front()) {
    const double t = x - x_.front();
    return t * (y_.front() + left_slope_ * t / 2);
  }
  if (x >= x_.back()) {
    const double t = x - x_.back();
    return area_.back() + t * (y_.back() + right_slope_ * t / 2);
  }
  const std::size_t i = segment(x);
  const double t = x - x_[i];
  const Cubic& c = cubic_[i];
  return area_[i] + t * (c[0] + t * (c[1] / 2 + t * (c[2] / 3 + t * c[3] / 4)));
}

Map::Map(std::vector<double> x, std::vector<double> y, std::vector<std::vector<double>> z)
    : x_(std::move(x)), y_(std::move(y)), z_(std::move(z)) {
  require_axis(x_, "first-axis");
  require_axis(y_, "second-axis");
  if (z_.size() != x_.size()) {
    throw std::invalid_argument("it has " + std::to_string(z_.size()) + " rows but " + std::to_string(x_.size()) +
                                " first-axis values");
  }
  for (const auto& row : z_) {
    if (row.size() != y_.size()) {
      throw std::invalid_argument("a row has " + std::to_string(row.size()) + " values but there are " +
                                  std::to_string(y_.size()) + " second-axis values");
    }
    for (const double value : row) {
      if (!std::isfinite(value)) throw std::invalid_argument("a value is not a finite number");
    }
  }
}

double Map::operator()(double x, double y) const {
  const auto locate = [](const std::vector<double>& axis, double at, std::size_t& i, double& share) {
    if (axis.size() == 1) {
      i = 0;
      share = 0;
      return;
    }
    const auto above = std::upper_bound(axis.begin() + 1, axis.end() - 1, at);
    i = static_cast<std::size_t>(above - axis.begin()) - 1;
    share = std::clamp((at - axis[i]) / (axis[i + 1] - axis[i]), 0.0, 1.0);
  };
  std::size_t i = 0, j = 0;
  double a = 0, b = 0;
  locate(x_, x, i, a);
  locate(y_, y, j, b);
  const auto row = [&](std::size_t r) { return b > 0 ? (1 - b) * z_[r][j] + b * z_[r][j + 1] : z_[r][j]; };
  return a > 0 ? (1 - a) * row(i) + a * row(i + 1) : row(i);
}

}  // namespace overwinter
