#include "sim/weather/weather.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "models/light/split.hpp"

namespace overwinter {
namespace {

constexpr Tick hour = 3600 * ticks_per_second;

Tick ticks(Duration duration) { return std::llround(duration.si()) * ticks_per_second; }

Tick floor_to(Tick t, Tick step) {
  const Tick rest = t % step;
  return t - (rest < 0 ? rest + step : rest);
}

// Row of the station year that holds for an instant of the station's standard time.
std::size_t row_at(Tick station_time) {
  const Tick midnight = floor_to(station_time, ticks_per_day);
  CivilDate date = civil_date(midnight / ticks_per_day);
  if (date.month == 2 && date.day == 29) date.day = 28;
  constexpr int common_year = 1970;
  date.year = common_year;
  const auto day = static_cast<std::size_t>(days_since_epoch(date) - days_since_epoch({common_year, 1, 1}));
  return day * 24 + static_cast<std::size_t>((station_time - midnight) / hour);
}

Ambient ambient_of(const std::vector<StationRecord>& hours, std::size_t row, const IntervalSun& sun, double albedo) {
  const StationRecord& now = hours[row];
  const StationRecord& before = hours[row == 0 ? hours.size() - 1 : row - 1];

  const bool has_beam = !std::isnan(now.beam_normal);
  const bool has_diffuse = !std::isnan(now.diffuse_horizontal);
  const Irradiance global{now.global_horizontal};
  Split split{Irradiance{now.beam_normal}, Irradiance{now.diffuse_horizontal}};
  if (sun.lit_fraction <= 0) {
    split = {Irradiance{}, global};
  } else if (has_diffuse && !has_beam) {
    split = split_with_diffuse(global, Irradiance{now.diffuse_horizontal}, sun);
  } else if (has_beam && !has_diffuse) {
    split.diffuse_horizontal = Irradiance{std::max(0.0, now.global_horizontal - now.beam_normal * cos(sun.sun.zenith))};
  } else if (!has_beam) {
    split = split_global(global, sun);
  }

  Ambient ambient;
  ambient.air = celsius((before.air_celsius + now.air_celsius) / 2);
  ambient.sky.global_horizontal = global;
  ambient.sky.diffuse_horizontal = split.diffuse_horizontal;
  ambient.sky.beam_normal = split.beam_normal;
  ambient.sky.extraterrestrial_normal = extraterrestrial_normal(sun.sun.distance);
  ambient.sky.sun_zenith = sun.sun.zenith;
  ambient.sky.sun_azimuth = sun.sun.azimuth;
  ambient.sky.albedo = albedo;
  return ambient;
}

void warn_of_distance(const Site& site, const Site& station, std::vector<std::string>& warnings) {
  const double latitude = std::abs((site.latitude - station.latitude) / units::degree);
  const double longitude = std::abs(std::remainder((site.longitude - station.longitude) / units::degree, 360.0));
  const double height = std::abs((site.elevation - station.elevation) / units::metre);
  if (latitude > 0.5 || longitude > 0.5) {
    warnings.push_back(
        fmt::format("the weather station stands {:.1f} deg of latitude and {:.1f} deg of longitude from the "
                    "site: its clouds and its air may not be the site's",
                    latitude, longitude));
  }
  if (height > 200) {
    warnings.push_back(
        fmt::format("the weather station stands {:.0f} m {} the site: the site's air is about {:.1f} K {} "
                    "(6.5 K per 1000 m)",
                    height, station.elevation > site.elevation ? "above" : "below",
                    height * 6.5e-3,  // ISO 2533 standard atmosphere
                    station.elevation > site.elevation ? "warmer" : "colder"));
  }
}

}  // namespace

double annual_horizontal_kwh(const StationYear& year) {
  double watt_hours = 0;
  for (const StationRecord& record : year.hours) watt_hours += record.global_horizontal;
  return watt_hours / 1000;
}

Observer observer_at(const Site& site) {
  Observer observer;
  observer.latitude = site.latitude;
  observer.longitude = site.longitude;
  observer.pressure = standard_pressure(site.elevation);
  return observer;
}

Weather::Weather(StationYear station, Site site, CivilDate from, CivilDate to)
    : station_(std::move(station)), site_(site), warnings_(station_.warnings) {
  warn_of_distance(site_, station_.site, warnings_);
  if (station_.source_years.size() > 1) {
    warnings_.push_back(
        fmt::format("typical year: its months come from {} different years ({} to {}), chosen because they "
                    "were ordinary; bad winters are not in it",
                    station_.source_years.size(), station_.source_years.front(), station_.source_years.back()));
  }

  const Tick begin = days_since_epoch(from) * ticks_per_day - ticks(site_.utc_offset);
  const Tick end = (days_since_epoch(to) + 1) * ticks_per_day - ticks(site_.utc_offset);
  const Tick station_offset = ticks(station_.site.utc_offset);
  const Observer observer = observer_at(site_);
  intervals_.reserve(static_cast<std::size_t>((end - begin) / hour) + 2);
  for (Tick t = begin; t < end;) {
    const Tick hour_begin = floor_to(t + station_offset, hour);
    WeatherInterval interval;
    interval.begin = t;
    interval.end = std::min(end, hour_begin + hour - station_offset);
    interval.ambient = ambient_of(station_.hours, row_at(hour_begin),
                                  interval_sun(interval.begin, interval.end, observer), site_.albedo);
    intervals_.push_back(interval);
    t = interval.end;
  }
}

}  // namespace overwinter
