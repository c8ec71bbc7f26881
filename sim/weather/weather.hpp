// Weather as the engine sees it: a row of intervals, each with constant values.
#pragma once

#include <string>
#include <vector>

#include "models/light/sky.hpp"
#include "models/light/sun.hpp"
#include "models/model.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/site.hpp"

namespace overwinter {

/// One interval [begin, end) of constant weather.
struct WeatherInterval {
  Tick begin = 0;
  Tick end = 0;
  Ambient ambient;
};

/// One record of a station file, covering the hour that ends at its time stamp.
struct StationRecord {
  double air_celsius = 0;         ///< at the end of the hour
  double global_horizontal = 0;   ///< W/m2, mean over the hour
  double beam_normal = 0;         ///< W/m2; not a number where missing
  double diffuse_horizontal = 0;  ///< W/m2; not a number where missing
};

/// A typical or measured year, hour by hour, as read from a station file.
struct StationYear {
  std::string path;
  std::string place;  ///< the station's name as the file gives it
  Site site;
  std::vector<StationRecord> hours;  ///< 8760: hour 0 is 1 January 00:00-01:00 standard time
  std::vector<int> source_years;     ///< distinct calendar years of the rows, ascending
  std::vector<std::string> warnings;
  std::string text;  ///< the file's bytes, for the run's record of inputs
};

/// Hours of a station year: 29 February is not among them.
inline constexpr std::size_t hours_per_year = 8760;

/// Global radiation on the horizontal over the whole year, kWh/m2.
double annual_horizontal_kwh(const StationYear&);

/// How someone at the site sees the sun: air pressure of the standard atmosphere, 10 degC.
Observer observer_at(const Site&);

/// A station year wrapped onto the calendar of a span, seen from a site.
///
/// Radiation is constant over each hour of the file, at the hour's mean; the sun stands where it is in the middle of
/// the interval's sunlit part. Beam and diffuse come from the file where it has them, else the global radiation is
/// split by Erbs, Klein & Duffie 1982. Where the file has light and the sun stays below the true horizon, all of it is
/// diffuse. Air temperature is constant over each hour, at the mean of the values before and after it.
class Weather {
 public:
  /// The site decides the sun's path and what a day is; the file's own standard time decides which row applies.
  /// 29 February repeats the 28th. from and to are days of the site's standard time, `to` included; from <= to.
  Weather(StationYear, Site, CivilDate from, CivilDate to);

  Tick begin() const { return intervals_.front().begin; }
  Tick end() const { return intervals_.back().end; }
  const std::vector<WeatherInterval>& intervals() const { return intervals_; }
  const Site& site() const { return site_; }
  const StationYear& station() const { return station_; }
  /// The station file's own warnings first.
  const std::vector<std::string>& warnings() const { return warnings_; }

 private:
  StationYear station_;
  Site site_;
  std::vector<WeatherInterval> intervals_;
  std::vector<std::string> warnings_;
};

}  // namespace overwinter
