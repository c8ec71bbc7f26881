#include "sim/weather/weather.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>
#include <set>
#include <utility>

#include "models/light/split.hpp"
#include "sim/weather/pieces.hpp"

namespace overwinter {
namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr std::array<int, 12> month_days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
// Twilight brings some 0.5 % of a dull winter day's light (from memory).
constexpr double most_at_night = 0.01;

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

Sky sky_of(double global_horizontal, double beam_normal, double diffuse_horizontal, const IntervalSun& sun,
           double albedo) {
  const bool has_beam = !std::isnan(beam_normal);
  const bool has_diffuse = !std::isnan(diffuse_horizontal);
  const Irradiance global{global_horizontal};
  Split split{Irradiance{beam_normal}, Irradiance{diffuse_horizontal}};
  if (sun.lit_fraction <= 0) {
    split = {Irradiance{}, global};
  } else if (has_diffuse && !has_beam) {
    split = split_with_diffuse(global, Irradiance{diffuse_horizontal}, sun);
  } else if (has_beam && !has_diffuse) {
    split.diffuse_horizontal = Irradiance{std::max(0.0, global_horizontal - beam_normal * cos(sun.sun.zenith))};
  } else if (!has_beam) {
    split = split_global(global, sun);
  }

  Sky sky;
  sky.global_horizontal = global;
  sky.diffuse_horizontal = split.diffuse_horizontal;
  sky.beam_normal = split.beam_normal;
  sky.extraterrestrial_normal = extraterrestrial_normal(sun.sun.distance);
  sky.sun_zenith = sun.sun.zenith;
  sky.sun_azimuth = sun.sun.azimuth;
  sky.albedo = albedo;
  return sky;
}

Ambient ambient_of(const std::vector<StationRecord>& hours, std::size_t row, const IntervalSun& sun, double albedo) {
  const StationRecord& now = hours[row];
  const StationRecord& before = hours[row == 0 ? hours.size() - 1 : row - 1];
  Ambient ambient;
  ambient.air = celsius((before.air_celsius + now.air_celsius) / 2);
  ambient.sky = sky_of(now.global_horizontal, now.beam_normal, now.diffuse_horizontal, sun, albedo);
  return ambient;
}

double median(std::vector<double> values) {
  if (values.empty()) return none;
  std::sort(values.begin(), values.end());
  const std::size_t middle = values.size() / 2;
  return values.size() % 2 ? values[middle] : (values[middle - 1] + values[middle]) / 2;
}

std::array<double, 12> median_days(const std::vector<StationRecord>& hours) {
  std::array<double, 12> medians{};
  for (std::size_t month = 0, hour_of_year = 0; month < 12; ++month) {
    std::vector<double> days;
    for (int day = 0; day < month_days[month]; ++day) {
      double sum = 0;
      for (int h = 0; h < 24; ++h) sum += hours[hour_of_year++].global_horizontal * 3600;
      days.push_back(sum);
    }
    medians[month] = median(std::move(days));
  }
  return medians;
}

/// Light of a record day by day.
class DailyLight {
 public:
  DailyLight(Tick first, Tick offset) : offset_(offset), first_(floor_to(first + offset, ticks_per_day)) {}
  void add(Tick begin, Tick end, double global) {
    for (Tick t = begin; t < end;) {
      const auto day = static_cast<std::size_t>((t + offset_ - first_) / ticks_per_day);
      const Tick until = std::min(end, first_ - offset_ + static_cast<Tick>(day + 1) * ticks_per_day);
      if (day >= days_.size()) days_.resize(day + 1);
      const Tick length = until - t;
      days_[day].covered += length;
      days_[day].light += global * static_cast<double>(length) / ticks_per_second;
      t = until;
    }
  }
  void tell(WeatherSource& source) const {
    std::array<std::vector<double>, 12> of_month;
    std::set<int> years;
    double light = 0, covered = 0;
    for (std::size_t i = 0; i < days_.size(); ++i) {
      const Day& day = days_[i];
      const CivilDate date = civil_date(first_ / ticks_per_day + static_cast<Tick>(i));
      if (day.covered > 0) years.insert(date.year);
      if (day.covered == ticks_per_day) of_month[static_cast<std::size_t>(date.month - 1)].push_back(day.light);
      light += day.light;
      covered += static_cast<double>(day.covered) / ticks_per_day;
    }
    source.years.assign(years.begin(), years.end());
    for (std::size_t month = 0; month < 12; ++month) source.median_day[month] = median(std::move(of_month[month]));
    if (covered >= 365) source.annual_kwh = light / 3.6e6 / covered * 365;
  }

 private:
  struct Day {
    Tick covered = 0;
    double light = 0;  // J/m2
  };
  Tick offset_, first_;
  std::vector<Day> days_;
};

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

TickSpan ticks_of_span(const Site& site, CivilDate from, CivilDate to) {
  const Tick offset = ticks(site.utc_offset);
  return {days_since_epoch(from) * ticks_per_day - offset, (days_since_epoch(to) + 1) * ticks_per_day - offset};
}

Weather::Weather(StationYear station, Site site, CivilDate from, CivilDate to)
    : site_(site), warnings_(std::move(station.warnings)), findings_(std::move(station.findings)) {
  warn_of_distance(site_, station.site, warnings_);
  source_.typical_year = station.source_years.size() > 1;
  if (source_.typical_year) {
    warnings_.push_back(
        fmt::format("typical year: its months come from {} different years ({} to {}), chosen because they "
                    "were ordinary; bad winters are not in it",
                    station.source_years.size(), station.source_years.front(), station.source_years.back()));
  }

  const auto [begin, end] = ticks_of_span(site_, from, to);
  const Tick station_offset = ticks(station.site.utc_offset);
  const Observer observer = observer_at(site_);
  intervals_.reserve(static_cast<std::size_t>((end - begin) / hour) + 2);
  for (Tick t = begin; t < end;) {
    const Tick hour_begin = floor_to(t + station_offset, hour);
    WeatherInterval interval;
    interval.begin = t;
    interval.end = std::min(end, hour_begin + hour - station_offset);
    interval.ambient = ambient_of(station.hours, row_at(hour_begin),
                                  interval_sun(interval.begin, interval.end, observer), site_.albedo);
    intervals_.push_back(interval);
    t = interval.end;
  }
  source_.step = hour;
  source_.rows = station.hours.size();
  source_.median_day = median_days(station.hours);
  source_.annual_kwh = annual_horizontal_kwh(station);
  source_.path = std::move(station.path);
  source_.place = std::move(station.place);
  source_.years = std::move(station.source_years);
  source_.sha256 = std::move(station.sha256);
}

Weather::Weather(MeasuredRecord record, Site site, CivilDate from, CivilDate to)
    : site_(site), warnings_(std::move(record.warnings)), findings_(std::move(record.findings)) {
  const auto [span_begin, span_end] = ticks_of_span(site_, from, to);
  const Observer observer = observer_at(site_);
  DailyLight days(record.begin, ticks(site_.utc_offset));
  double by_day = 0, by_night = 0;  // J/m2
  intervals_.reserve(static_cast<std::size_t>((span_end - span_begin) / std::min(record.step, hour)) + 2);
  for (std::size_t i = 0; i < record.rows.size(); ++i) {
    const MeasuredRow& row = record.rows[i];
    if (std::isnan(row.air_celsius)) continue;
    const Tick row_begin = record.begin + static_cast<Tick>(i) * record.step, row_end = row_begin + record.step;
    const bool in_span = row_end > span_begin && row_begin < span_end;
    if (!in_span && !std::isnan(row.global_horizontal)) {
      days.add(row_begin, row_end, row.global_horizontal);
      continue;
    }
    for (const Piece& piece : cut(row, row_begin, record.step, observer)) {
      days.add(piece.begin, piece.end, piece.global);
      WeatherInterval interval;
      interval.begin = std::max(piece.begin, span_begin);
      interval.end = std::min(piece.end, span_end);
      if (interval.begin >= interval.end) continue;
      (piece.sun.lit_fraction > 0 ? by_day : by_night) += piece.global * static_cast<double>(piece.end - piece.begin);
      interval.ambient.air = celsius(row.air_celsius);
      interval.ambient.sky = sky_of(piece.global, piece.beam, piece.diffuse, piece.sun, site_.albedo);
      intervals_.push_back(interval);
    }
  }
  if (by_night > most_at_night * (by_day + by_night)) {
    warnings_.push_back(
        fmt::format("{:.1f} % of the light falls while the sun is down: check the time's stamp and utc_offset, and the "
                    "site",
                    100 * by_night / (by_day + by_night)));
  }
  days.tell(source_);
  source_.step = record.step;
  source_.rows = record.rows.size();
  source_.seed = record.seed;
  source_.place =
      record.place.empty() ? std::filesystem::path(record.path).filename().string() : std::move(record.place);
  source_.path = std::move(record.path);
  source_.sha256 = std::move(record.sha256);
}

void Weather::cool(Tick from, Tick to, Temperature by) {
  std::vector<WeatherInterval> pieces;
  for (WeatherInterval rest : intervals_) {
    for (const Tick bound : {from, to}) {
      if (bound <= rest.begin || bound >= rest.end) continue;
      WeatherInterval piece = rest;
      piece.end = rest.begin = bound;
      pieces.push_back(piece);
    }
    pieces.push_back(rest);
  }
  for (WeatherInterval& piece : pieces) {
    if (piece.begin >= from && piece.end <= to) piece.ambient.air = piece.ambient.air - by;
  }
  intervals_ = std::move(pieces);
}

}  // namespace overwinter
