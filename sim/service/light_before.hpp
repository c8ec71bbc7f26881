// How dark the days before a brown-out were.
//
//   (1) what a day lacks of three quarters of its month's median day: l = 3/4 - light / median
//   (2) the dark spell: the days that end with the day before, at most 60 of them, over which sum(l) is the largest,
//       if that is at least half a median day; of equally large ones the shortest
//                                    the medians: sunny_days.hpp; (2) the largest of backward cumulated sums with a
//                                    reference value halfway to half the light (Page 1954, Biometrika 41, 100-115)
// Without a dark spell the last 14 days are told of.
#pragma once

#include <cstddef>
#include <optional>

#include "sim/netlist/scenario.hpp"
#include "sim/service/sunny_days.hpp"

namespace overwinter {

struct LightBefore {
  std::size_t first = 0, days = 0;  ///< days of the span, counted from 0; at least one
  double light = 0, median = 0;     ///< J/m2 a day, mean over these days
  bool dark = false;                ///< a dark spell; otherwise merely the days before
  double share() const { return light / median; }
};

/// Before day `day` of a span that begins on `from`. None before the first whole day of the span, or where the record
/// has no median for one of these days.
std::optional<LightBefore> light_before(const SunnyDays&, CivilDate from, std::size_t day);

}  // namespace overwinter
