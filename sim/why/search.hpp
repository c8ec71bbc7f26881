// The smallest change of one quantity that avoids a brown-out, by bisection.
//
// d is the share of the way from the present value to the bound. The bound is tried first; where it does not help, 30 %
// of the way is, and then it is given up. Otherwise d is quartered until it does not help any more, and bisected
// between (geometrically) until 95 % of the change does not help. Whether a greater change always helps more is not
// taken for granted: what is found has been tried, and so has 95 % of it; where that helps after all, the search goes
// on below. Changes are rounded to three digits.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>

namespace overwinter {

struct Smallest {
  /// In the unit of the quantity; none where nothing tried helps.
  std::optional<double> value;
  /// 95 % of the change, or the least where that is more, tried and of no help. None where the change is the least that
  /// is looked at.
  std::optional<double> short_of;
  double furthest = 0;    ///< the value furthest from the present one that was tried
  std::size_t tries = 0;  ///< how often `helps` was asked
};

/// `least`: share of the quantity, the smallest change that is looked at, or one step where that is larger. `step`: to
/// whole multiples of which values are rounded, 0 for none. `valid`: a value can be had at all; asked first. None where
/// not even the least change is valid.
std::optional<Smallest> smallest_change(double now, double bound, double least, double step,
                                        const std::function<bool(double)>& valid,
                                        const std::function<bool(double)>& helps);

}  // namespace overwinter
