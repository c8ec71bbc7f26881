#include "sim/service/light_before.hpp"

#include <algorithm>

namespace overwinter {

std::optional<LightBefore> light_before(const SunnyDays& sky, CivilDate from, std::size_t day) {
  constexpr std::size_t longest = 60, ordinary = 14;
  constexpr double reference = 0.75, least_lack = 0.5;  // median days
  const std::int64_t begin = days_since_epoch(from);
  LightBefore all, best;
  double lack = 0, largest = 0, light = 0, median = 0;
  for (std::size_t d = std::min(day, sky.light.size()); d-- > 0 && all.days < longest;) {
    const int month = civil_date(begin + static_cast<std::int64_t>(d)).month;
    const double usual = sky.median_of_month[static_cast<std::size_t>(month - 1)];
    if (!(usual > 0)) break;
    lack += reference - sky.light[d] / usual;  // (1)
    light += sky.light[d];
    median += usual;
    const std::size_t days = all.days + 1;
    const auto count = static_cast<double>(days);
    const LightBefore window{d, days, light / count, median / count, false};
    if (days <= ordinary) all = window;
    all.days = days;
    if (lack > largest) {
      largest = lack;
      best = window;
    }
  }
  if (all.days == 0) return std::nullopt;
  best.dark = largest >= least_lack;  // (2)
  all.days = std::min(all.days, ordinary);
  return best.dark ? best : all;
}

}  // namespace overwinter
