#include "sim/weather/clock_jumps.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/light/clear_sky.hpp"

namespace overwinter {
namespace {

constexpr Tick minute = 60 * ticks_per_second, hour = 60 * minute;
constexpr double daylight = 30;  // W/m2, Gd of (1)
constexpr Tick finest = 5 * minute, farthest = 2 * hour;
constexpr Tick least_days = 10, most_days = 20;
constexpr double least_jump = 0.6, most_jump = 1.4;  // h: an hour, with what clouds make of (2)

double light_of(const MeasuredRow& row) {
  return std::isnan(row.global_horizontal) ? row.diffuse_horizontal + row.beam_normal : row.global_horizontal;
}

double by_day(double light) { return std::min(std::max(light, 0.0), daylight) / daylight; }

/// Nothing is known of the row.
bool is_absent(const MeasuredRow& row) { return std::isnan(light_of(row)) && std::isnan(row.air_celsius); }

class LightClock {
 public:
  LightClock(const MeasuredRecord& record, const Observer& observer) : record_(record), observer_(observer) {}

  /// s of (2) of the rows [first, last).
  Duration shift(std::size_t first, std::size_t last) const {
    // Sums of a clear sky by 5 minutes, from before the first row to after the last.
    const Tick begin = begin_of(first) - farthest - hour, end = begin_of(last) + farthest + hour;
    std::vector<double> clear = {0};
    for (Tick t = begin; t < end; t += finest) {
      clear.push_back(clear.back() + clear_sky(sun_position(t + finest / 2, observer_).zenith).si());
    }
    double least = std::numeric_limits<double>::infinity();
    Tick best = 0;
    for (Tick s = -farthest; s <= farthest; s += finest) {
      double squares = 0;
      for (std::size_t i = first; i < last; ++i) {
        const double light = light_of(record_.rows[i]);
        if (std::isnan(light)) continue;
        const auto from = static_cast<std::size_t>((begin_of(i) - s - begin) / finest);
        const auto to = std::max(from + 1, static_cast<std::size_t>((begin_of(i + 1) - s - begin) / finest));
        const double off = by_day(light) - by_day((clear[to] - clear[from]) / static_cast<double>(to - from));
        squares += off * off;
      }
      if (squares < least) least = squares, best = s;
    }
    return Duration{static_cast<double>(best) / ticks_per_second};
  }

  Tick begin_of(std::size_t row) const { return record_.begin + static_cast<Tick>(row) * record_.step; }

 private:
  const MeasuredRecord& record_;
  const Observer observer_;
};

}  // namespace

bool clocks_may_change(Tick local) {
  const Tick clock = (local % ticks_per_day + ticks_per_day) % ticks_per_day;
  const int month = civil_date((local - clock) / ticks_per_day).month;
  return (month == 3 || month == 4 || (month >= 9 && month <= 11)) && (clock <= 4 * hour || clock >= 23 * hour);
}

std::vector<ClockJump> clock_jumps(const MeasuredRecord& record, const Observer& observer, Tick local_offset) {
  std::vector<ClockJump> all;
  if (record.step > hour) return all;
  const LightClock light(record, observer);
  const std::size_t size = record.rows.size();
  const auto days = [&](Tick n) { return static_cast<std::size_t>(n * ticks_per_day / record.step); };
  for (std::size_t i = 0; i < size; ++i) {
    if (!is_absent(record.rows[i])) continue;
    std::size_t end = i;
    while (end < size && is_absent(record.rows[end])) ++end;
    const std::size_t begin = i;
    i = end;
    if (static_cast<Tick>(end - begin) * record.step != hour) continue;
    if (!clocks_may_change(light.begin_of(begin) + local_offset)) continue;
    if (begin < days(least_days) || size - end < days(least_days)) continue;
    const Duration before = light.shift(begin - std::min(begin, days(most_days)), begin);
    const Duration after = light.shift(end, std::min(size, end + days(most_days)));
    const double jump = (after - before) / units::hour;
    if (jump >= least_jump && jump <= most_jump) {
      all.push_back({light.begin_of(begin), light.begin_of(end), before, after});
    }
  }
  return all;
}

}  // namespace overwinter
