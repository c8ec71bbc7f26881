#include "sim/weather/synthetic.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "models/light/sun.hpp"
#include "sim/weather/clearness_matrices.hpp"
#include "sim/weather/random.hpp"

namespace overwinter {
namespace {

constexpr int days_per_year = 365;
constexpr std::array<int, 13> month_begins{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365};
enum Stream : std::uint32_t { regime_stream = 1, day_stream = 2, hour_stream = 3, air_stream = 4 };

std::size_t month_of(int day) {
  return static_cast<std::size_t>(std::upper_bound(month_begins.begin(), month_begins.end(), day) -
                                  month_begins.begin() - 1);
}

/// One day's hours of sun.
using DaySuns = std::array<IntervalSun, 24>;

DaySuns suns_of(const Site& site, int calendar_year, int day) {
  const Observer observer = observer_at(site);
  constexpr Tick hour = 3600 * ticks_per_second;
  Tick begin = (days_since_epoch({calendar_year, 1, 1}) + day) * ticks_per_day -
               std::llround(site.utc_offset.si()) * ticks_per_second;
  DaySuns suns;
  for (IntervalSun& sun : suns) {
    sun = interval_sun(begin, begin + hour, observer);
    begin += hour;
  }
  return suns;
}

// Clearness index of a cloudless hour.
double clear_hour(const IntervalSun& sun) {
  return clear_sky(sun.sun.zenith) * sun.lit_fraction / extraterrestrial_horizontal(sun);
}

// Clearness index of a cloudless day; 1 where the sun stays down.
double clear_day(const DaySuns& suns) {
  Irradiance reaching, outside;
  for (const IntervalSun& sun : suns) {
    reaching += clear_sky(sun.sun.zenith) * sun.lit_fraction;
    outside += extraterrestrial_horizontal(sun);
  }
  return outside > Irradiance{} ? reaching / outside : 1.0;
}

/// A class's chain, bent to a wanted mean.
class ClearnessChain {
 public:
  /// `clear` is the clearness index of a cloudless day, or more.
  ClearnessChain(double mean, double clear) {
    auto index = static_cast<std::size_t>(std::clamp(std::ceil((mean - 0.30) / 0.05), 0.0, 9.0));
    if (index == 1) index = 2;  // (6)
    class_ = &clearness_classes[index];
    greatest_ = std::min(class_->greatest, clear);  // (8)
    constexpr double margin = 0.02;
    const double position = std::clamp((mean - class_->least) / (greatest_ - class_->least), margin, 1 - margin);
    const std::array<double, 10> share = stationary();
    double low = 0.01, high = 100;
    for (int i = 0; i < 60; ++i) {
      const double middle = std::sqrt(low * high);
      (mean_position(share, middle) > position ? low : high) = middle;
    }
    power_ = std::sqrt(low * high);
  }

  double next(std::size_t& state, Random& random) const {
    const auto& row = class_->thousandths[state];
    double rest = random.uniform() * total(row);
    state = 0;
    while (state < 9 && rest >= row[state]) rest -= row[state++];
    const double position = (static_cast<double>(state) + random.uniform()) / 10;
    return class_->least + (greatest_ - class_->least) * std::pow(position, power_);  // (5)
  }

 private:
  static double total(const std::array<int, 10>& row) {
    double sum = 0;
    for (const int count : row) sum += count;
    return sum;
  }

  std::array<double, 10> stationary() const {
    std::array<double, 10> share;
    share.fill(0.1);
    for (int i = 0; i < 500; ++i) {
      std::array<double, 10> next{};
      for (std::size_t from = 0; from < 10; ++from) {
        const auto& row = class_->thousandths[from];
        for (std::size_t to = 0; to < 10; ++to) next[to] += share[from] * row[to] / total(row);
      }
      share = next;
    }
    return share;
  }

  // Mean of x^power where x is uniform within each state.
  static double mean_position(const std::array<double, 10>& share, double power) {
    double mean = 0;
    for (std::size_t i = 0; i < 10; ++i) {
      const double from = static_cast<double>(i) / 10, to = from + 0.1;
      mean += share[i] * (std::pow(to, power + 1) - std::pow(from, power + 1)) / ((power + 1) * 0.1);
    }
    return mean;
  }

  const ClearnessClass* class_;
  double greatest_;
  double power_ = 1;
};

// Clearness index of each hour of a day (2); the scaled hours make up `day_clearness` of the day's extraterrestrial
// light. `y` carries the disturbance from hour to hour and day to day.
std::array<double, 24> hourly_clearness(double day_clearness, const DaySuns& suns, double& y, Random& random) {
  const double K = day_clearness;
  const double lambda = -0.19 + 1.12 * K + 0.24 * std::exp(-8 * K);
  const double rho = 0.32 - 1.6 * (K - 0.5) * (K - 0.5);
  const double kappa = 0.19 + 2.27 * K * K - 2.51 * K * K * K;
  const double A = 0.14 * std::exp(-20 * (K - 0.35) * (K - 0.35));
  const double B = 3 * (K - 0.45) * (K - 0.45) + 16 * std::pow(K, 5);
  const double phi = 0.38 + 0.06 * std::cos(7.4 * K - 2.5);

  std::array<double, 24> clearness{}, most{}, light{};
  double outside = 0;
  for (std::size_t h = 0; h < 24; ++h) {
    const IntervalSun& sun = suns[h];
    if (sun.lit_fraction <= 0) continue;
    const double sin_height = cos(sun.sun.zenith);
    const double solar_time = 12 + sun.sun.hour_angle / units::degree / 15;
    most[h] = std::min(0.88 * std::cos(pi * (solar_time - 12.5) / 30), clear_hour(sun));  // (8)
    const double middle = lambda + rho * std::exp(-kappa / sin_height);
    const double sigma = A * std::exp(B * (1 - sin_height));
    double kt = 0;
    constexpr int tries = 100;
    for (int i = 0; i < tries; ++i) {
      const double drawn = phi * y + std::sqrt(1 - phi * phi) * random.normal();
      kt = middle + sigma * drawn;
      if ((kt >= 0 && kt <= most[h]) || i + 1 == tries) {
        y = drawn;
        break;
      }
    }
    clearness[h] = std::clamp(kt, 0.0, most[h]);
    light[h] = extraterrestrial_horizontal(sun).si();
    outside += light[h];
  }
  // Hours that the scaling would lift above their bound stay there; the next round spreads the rest over the others.
  constexpr int rounds = 8;
  for (int i = 0; i < rounds; ++i) {
    const double reaching = std::inner_product(clearness.begin(), clearness.end(), light.begin(), 0.0);
    if (reaching <= 0) break;
    for (std::size_t h = 0; h < 24; ++h) clearness[h] = std::min(clearness[h] * K * outside / reaching, most[h]);
  }
  return clearness;
}

// A monthly value drawn straight between mid-months.
double between_months(const Months& months, double day) {
  for (std::size_t m = 0; m < 12; ++m) {
    const double here = (month_begins[m] + month_begins[m + 1]) / 2.0;
    const double there = m < 11 ? (month_begins[m + 1] + month_begins[m + 2]) / 2.0 : days_per_year + 15.5;
    const double along = day < 15.5 ? day + days_per_year : day;
    if (along >= here && along < there) {
      return months[m] + (months[(m + 1) % 12] - months[m]) * (along - here) / (there - here);
    }
  }
  return months[11];
}

struct DayAir {
  double anomaly;
  double range;
};

std::vector<DayAir> daily_air(const Climate& climate, const std::vector<double>& clearness, Random random) {
  // Standard deviation and lag-1 correlation of daily clearness as (1) and (4) make it in dull climates, measured over
  // 400 years; they keep the days' temperatures at the spread asked for.
  constexpr double clearness_spread = 0.16, clearness_memory = 0.45;
  const double persistence = climate.day_persistence;
  std::vector<DayAir> days(days_per_year);
  double anomaly = random.normal();  // in standard deviations
  for (int day = 0; day < days_per_year; ++day) {
    const std::size_t m = month_of(day), d = static_cast<std::size_t>(day);
    const double clear = std::clamp((clearness[d] - climate.clearness[m]) / clearness_spread, -2.0, 2.0);
    const double effect = climate.clear_day_effect[m];
    // An innovation with a memory of its own would widen a first-order process by this.
    const double chain = persistence * clearness_memory;
    const double widening = std::sqrt(1 + effect * effect * 2 * chain / (1 - chain));
    const double innovation = (effect * clear + std::sqrt(1 - effect * effect) * random.normal()) / widening;
    anomaly = persistence * anomaly + std::sqrt(1 - persistence * persistence) * innovation;
    const double brightness = std::clamp(clearness[d] / climate.clearness[m], 0.3, 1.8);
    days[d] = {anomaly * climate.day_spread[m], climate.daily_range[m] * brightness};
  }
  return days;
}

// Air temperature in degC (7): `day` counts from 1 January 00:00 and runs on; anomaly and range pass straight from one
// noon to the next.
double air_at(const Climate& climate, const std::vector<DayAir>& days, double day, double solar_time) {
  const double from_noon = day - 0.5;
  const double before = std::floor(from_noon);
  const auto wrapped = [&](double d) {
    const int index = static_cast<int>(d) % days_per_year;
    return days[static_cast<std::size_t>(index < 0 ? index + days_per_year : index)];
  };
  const DayAir a = wrapped(before), b = wrapped(before + 1);
  const double weight = from_noon - before;
  const double anomaly = a.anomaly + (b.anomaly - a.anomaly) * weight;
  const double range = a.range + (b.range - a.range) * weight;
  return between_months(climate.air, day) - zero_celsius.si() + anomaly +
         range / 2 * std::cos(2 * pi * (solar_time - 15) / 24);
}

}  // namespace

std::vector<double> daily_clearness(const Climate& climate, std::uint64_t seed, int calendar_year) {
  const double dull_share = climate.dull_spell / (climate.dull_spell + climate.settled_spell);
  const double settled_factor = (1 - dull_share * climate.dull_factor) / (1 - dull_share);
  std::vector<ClearnessChain> dull_chains, settled_chains;
  for (std::size_t month = 0; month < 12; ++month) {
    const double mean = climate.clearness[month];
    const double clear = clear_day(suns_of(climate.site, calendar_year, month_begins[month] + 15));
    dull_chains.emplace_back(mean * climate.dull_factor, clear);
    settled_chains.emplace_back(mean * settled_factor, clear);
  }

  Random regime(seed, regime_stream), draw(seed, day_stream);
  bool dull = regime.uniform() < dull_share;
  std::size_t state = 5;
  std::vector<double> clearness;
  clearness.reserve(days_per_year);
  constexpr int run_in = 31;  // the chain forgets where it began
  for (int day = -run_in; day < days_per_year; ++day) {
    if (regime.uniform() < 24 * units::hour / (dull ? climate.dull_spell : climate.settled_spell)) dull = !dull;  // (4)
    const std::size_t month = month_of(std::max(day, 0));
    const double value = (dull ? dull_chains : settled_chains)[month].next(state, draw);  // (1)
    if (day >= 0) clearness.push_back(value);
  }
  return clearness;
}

StationYear synthetic_year(const Climate& climate, std::uint64_t seed, int calendar_year) {
  StationYear year;
  year.place = climate.place;
  year.site = climate.site;
  year.source_years = {calendar_year};
  year.hours.resize(hours_per_year);

  const std::vector<double> clearness = daily_clearness(climate, seed, calendar_year);
  const std::vector<DayAir> air = daily_air(climate, clearness, Random(seed, air_stream));
  Random draw(seed, hour_stream);
  double y = 0;
  for (std::size_t day = 0; day < days_per_year; ++day) {
    const DaySuns suns = suns_of(climate.site, calendar_year, static_cast<int>(day));
    const std::array<double, 24> kt = hourly_clearness(clearness[day], suns, y, draw);
    for (std::size_t h = 0; h < 24; ++h) {
      StationRecord& record = year.hours[day * 24 + h];
      const Irradiance global = extraterrestrial_horizontal(suns[h]) * kt[h];
      const Split split = split_global(global, suns[h]);  // (3)
      record.global_horizontal = global.si();
      record.beam_normal = split.beam_normal.si();
      record.diffuse_horizontal = split.diffuse_horizontal.si();
      const double clock = static_cast<double>(h + 1);
      const double solar_time =
          clock + climate.site.longitude / units::degree / 15 - climate.site.utc_offset / units::hour;
      record.air_celsius = air_at(climate, air, static_cast<double>(day) + clock / 24, solar_time);
    }
  }
  return year;
}

MeasuredRecord synthetic_record(const Climate& climate, std::uint64_t seed, DaySpan span) {
  MeasuredRecord record;
  record.path = climate.path;
  record.sha256 = climate.sha256;
  record.place = climate.place;
  record.seed = seed;
  record.step = 3600 * ticks_per_second;
  record.begin = ticks_of_span(climate.site, {span.from.year, 1, 1}, span.to).begin;
  record.warnings.push_back(
      "synthetic weather, seed " + std::to_string(seed) +
      ": drawn from monthly means of a climate, as likely as another seed's; one seed is no survival verdict");
  double before = std::numeric_limits<double>::quiet_NaN();
  for (int year = span.from.year; year <= span.to.year; ++year) {
    const bool leap = is_leap_year(year);
    constexpr std::uint64_t years = 10000;  // keeps the years of neighbouring seeds apart
    const StationYear drawn =
        synthetic_year(climate, seed * years + static_cast<std::uint64_t>(year), leap ? year - 1 : year);
    for (std::size_t day = 0; day < days_per_year; ++day) {
      const bool twice = leap && day == 58;  // 28 February
      for (std::size_t h = 0; h < (twice ? 48 : 24); ++h) {
        const StationRecord& hour = drawn.hours[day * 24 + h % 24];
        const double air = std::isnan(before) ? hour.air_celsius : (before + hour.air_celsius) / 2;
        record.rows.push_back({air, hour.global_horizontal, hour.beam_normal, hour.diffuse_horizontal});
        before = hour.air_celsius;
      }
    }
  }
  return record;
}

}  // namespace overwinter
