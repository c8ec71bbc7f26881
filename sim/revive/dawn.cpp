#include "sim/revive/dawn.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "sim/service/sunny_days.hpp"

namespace overwinter {
namespace {

constexpr Tick step = 3600 * ticks_per_second;
constexpr Tick warmest_after_noon = 7200 * ticks_per_second;  // (4)
constexpr double overcast_share = 0.25;                       // (2)

struct Air {
  double coldest, warmest;  // degC
};

/// (4), at an instant of a day that begins and ends at midnight.
double air_at(Tick t, Tick midnight, const Daylight& sun, Air air) {
  const Tick end = midnight + ticks_per_day, warmest = std::min(sun.noon() + warmest_after_noon, end - step);
  const double middle = (air.coldest + air.warmest) / 2, half = (air.warmest - air.coldest) / 2;
  const auto share = [](Tick from, Tick at, Tick to) {
    return static_cast<double>(at - from) / static_cast<double>(to - from);
  };
  if (t <= sun.rise) return air.coldest;
  if (t <= warmest) return middle - half * std::cos(pi * share(sun.rise, t, warmest));
  return middle + half * std::cos(pi * share(warmest, t, end));
}

MeasuredRecord days_alike(const Site& site, CivilDate date, int days, double share_of_clear, Air air) {
  const Observer observer = observer_at(site);
  const std::int64_t first = days_since_epoch(date);
  MeasuredRecord record;
  record.step = step;
  record.begin = ticks_of_span(site, date, date).begin;
  for (int day = 0; day < days; ++day) {
    const CivilDate on = civil_date(first + day);
    const Tick midnight = ticks_of_span(site, on, on).begin;
    const Daylight sun = daylight_on(site, on);
    for (Tick t = midnight; t < midnight + ticks_per_day; t += step) {
      const IntervalSun stands = interval_sun(t, t + step, observer);
      const Irradiance global = share_of_clear * stands.lit_fraction * clear_sky(stands.sun.zenith);  // (1), (2)
      constexpr double split = std::numeric_limits<double>::quiet_NaN();                              // (3)
      record.rows.push_back({air_at(t + step / 2, midnight, sun, air), global.si(), split, split});
    }
  }
  return record;
}

DawnProfile profile(const Site& site, CivilDate date, int days, const std::string& name, bool overcast, Air air) {
  MeasuredRecord record = days_alike(site, date, days, overcast ? overcast_share : 1.0, air);
  record.place = name + " dawn";
  const Observer observer = observer_at(site);
  double light = 0, outside = 0;  // J/m2
  for (Tick i = 0; i * step < ticks_per_day; ++i) {
    const Tick t = record.begin + i * step;
    const double seconds = static_cast<double>(step) / ticks_per_second;
    light += record.rows[static_cast<std::size_t>(i)].global_horizontal * seconds;
    outside += extraterrestrial_horizontal(interval_sun(t, t + step, observer)).si() * seconds;
  }
  const double clearness = light / outside;
  const CivilDate last = civil_date(days_since_epoch(date) + days - 1);
  std::string text = fmt::format(
      "{}, {:.2f} kWh/m2 a day, clearness index {:.2f}; air {:g} degC until sunrise, {:g} degC two hours after noon",
      overcast ? "a quarter of the clear sky's light" : "clear sky", light / 3.6e6, clearness, air.coldest,
      air.warmest);
  return {
      name, std::move(text), clearness, light, air.coldest, air.warmest, Weather(std::move(record), site, date, last)};
}

}  // namespace

Daylight daylight_on(const Site& site, CivilDate date) {
  const TickSpan day = ticks_of_span(site, date, date);
  Daylight longest{day.begin, day.begin};
  for (const SunUp& up : sun_up(day.begin, day.end, observer_at(site), true_horizon)) {
    if (up.end - up.begin > longest.set - longest.rise) longest = {up.begin, up.end};
  }
  return longest;
}

std::vector<DawnProfile> dawn_profiles(const Site& site, CivilDate date, int days, bool fine) {
  constexpr Air mild{5, 12}, mild_under_clouds{5, 8}, frosty{-10, 4}, frosty_under_clouds{-4, 1}, warm{20, 30};
  std::vector<DawnProfile> all;
  const auto add = [&](const char* name, bool overcast, Air air) {
    all.push_back(profile(site, date, days, name, overcast, air));
  };
  add("clear", false, mild);
  add("overcast", true, mild_under_clouds);
  add("cold", false, frosty);
  if (!fine) return all;
  add("cold overcast", true, frosty_under_clouds);
  add("warm", false, warm);
  return all;
}

CivilDate dullest_day(const Weather& weather) {
  const std::vector<double> light = SunnyDays(weather).light;
  const auto least = std::min_element(light.begin(), light.end()) - light.begin();
  const auto offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si())) * ticks_per_second;
  return civil_date((weather.begin() + offset) / ticks_per_day + least);
}

}  // namespace overwinter
