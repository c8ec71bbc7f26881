// Weather as the engine sees it: a row of intervals, each with constant values.
#pragma once

#include <string>
#include <vector>

#include "models/light/sky.hpp"
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

/// One record of a station file, covering the interval that ends at its time stamp.
struct StationRecord {
  double air_celsius;              ///< at the end of the interval
  double global_horizontal;        ///< W/m2, mean over the interval
  double beam_normal;              ///< W/m2; not a number where missing
  double diffuse_horizontal;       ///< W/m2; not a number where missing
};

/// A typical or measured year, hour by hour, as read from a station file.
struct StationYear {
  std::string path;
  std::string place;                   ///< the station's name as the file gives it
  Site site;
  std::vector<StationRecord> hours;    ///< 8760: hour 0 is 1 January 00:00-01:00 standard time
  std::vector<int> source_years;       ///< distinct calendar years of the rows, ascending
  std::vector<std::string> warnings;
  std::string text;                    ///< the file's bytes, for the run's record of inputs
};

/// A station year wrapped onto the calendar of a span, seen from a site.
class Weather {
 public:
  /// The site decides the sun's path and what a day is; the file's own standard time decides which row applies.
  /// 29 February repeats the 28th. from and to are days of the site's standard time, `to` included.
  Weather(StationYear, Site, CivilDate from, CivilDate to);

  Tick begin() const { return intervals_.front().begin; }
  Tick end() const { return intervals_.back().end; }
  const std::vector<WeatherInterval>& intervals() const { return intervals_; }
  const Site& site() const { return site_; }
  const StationYear& station() const { return station_; }
  const std::vector<std::string>& warnings() const { return warnings_; }

 private:
  StationYear station_;
  Site site_;
  std::vector<WeatherInterval> intervals_;
  std::vector<std::string> warnings_;
};

}  // namespace overwinter
