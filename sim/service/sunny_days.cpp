#include "sim/service/sunny_days.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr int days_in_month[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t middle = values.size() / 2;
  return values.size() % 2 ? values[middle] : (values[middle - 1] + values[middle]) / 2;
}

}  // namespace

SunnyDays::SunnyDays(const Weather& weather) {
  std::size_t hour = 0;
  for (std::size_t month = 0; month < 12; ++month) {
    std::vector<double> days;
    for (int day = 0; day < days_in_month[month]; ++day) {
      double sum = 0;
      for (int h = 0; h < 24; ++h) sum += weather.station().hours[hour++].global_horizontal * 3600;
      days.push_back(sum);
    }
    median_of_month[month] = median(std::move(days));
  }

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
