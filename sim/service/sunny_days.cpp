#include "sim/service/sunny_days.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

SunnyDays::SunnyDays(const Weather& weather) : median_of_month(weather.source().median_day) {
  const auto offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si() * ticks_per_second));
  for (const WeatherInterval& interval : weather.intervals()) {
    for (Tick t = interval.begin; t < interval.end;) {  // midnight may cut an hour of the file
      const auto day = static_cast<std::size_t>((t - weather.begin()) / ticks_per_day);
      const Tick until = std::min(interval.end, weather.begin() + static_cast<Tick>(day + 1) * ticks_per_day);
      if (day >= light.size()) light.resize(day + 1, 0.0);
      light[day] += interval.ambient.sky.global_horizontal.si() * static_cast<double>(until - t) / ticks_per_second;
      t = until;
    }
  }
  const std::int64_t first = (weather.begin() + offset) / ticks_per_day;
  for (std::size_t day = 0; day < light.size(); ++day) {
    const int month = civil_date(first + static_cast<std::int64_t>(day)).month;
    const double needed = median_of_month[static_cast<std::size_t>(month - 1)];
    sunny.push_back(light[day] > 0 && light[day] >= needed * (1 - 1e-9));
  }
}

}  // namespace overwinter
