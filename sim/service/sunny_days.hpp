// Which days of a span count as sunny.
#pragma once

#include <array>
#include <vector>

#include "sim/weather/weather.hpp"

namespace overwinter {

/// A sunny day brings at least the light of the median day of its month in the station's record. Light is the global
/// radiation on the horizontal, summed over a day of the site's standard time.
struct SunnyDays {
  explicit SunnyDays(const Weather&);

  std::array<double, 12> median_of_month{};  ///< J/m2 a day, January first; not a number without a day in the record
  std::vector<double> light;                 ///< J/m2, day by day of the span
  std::vector<bool> sunny;                   ///< day by day of the span
};

}  // namespace overwinter
