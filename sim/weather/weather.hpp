// Weather as the engine sees it: a row of intervals, each with constant values.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "models/light/sky.hpp"
#include "models/light/sun.hpp"
#include "models/model.hpp"
#include "sim/netlist/review/finding.hpp"
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
  std::vector<DesignFinding> findings;  ///< what the rows contradict each other in
  std::string sha256;                   ///< of the file's bytes, for the run's record of inputs
};

/// Hours of a station year: 29 February is not among them.
inline constexpr std::size_t hours_per_year = 8760;

/// Global radiation on the horizontal over the whole year, kWh/m2.
double annual_horizontal_kwh(const StationYear&);

/// One row of a measured record: means over its interval. Light in W/m2.
struct MeasuredRow {
  double air_celsius = 0;
  double global_horizontal = 0;   ///< not a number where the record has direct and diffuse light only
  double beam_normal = 0;         ///< not a number where the record has none
  double diffuse_horizontal = 0;  ///< not a number where the record has none
};

/// What was measured at a site, as read from a CSV file. Rows follow each other without a gap; the air temperature of
/// one that stands for nothing (in a gap that no span needs) is not a number.
struct MeasuredRecord {
  std::string path;
  std::string place;  ///< empty: the file's name stands for it
  Tick begin = 0;
  Tick step = 0;  ///< from a minute to a day
  std::vector<MeasuredRow> rows;
  std::optional<std::uint64_t> seed;  ///< where nothing was measured: the weather was made up from it
  std::vector<std::string> warnings;
  std::vector<DesignFinding> findings;  ///< what the rows contradict each other in
  std::string sha256;                   ///< of the file's bytes, for the run's record of inputs
};

/// Where weather came from, as results tell it.
struct WeatherSource {
  std::string path;
  std::string place;       ///< the station's name, or the name of a file that gives none
  std::vector<int> years;  ///< distinct calendar years of the rows, ascending
  bool typical_year = false;
  std::optional<std::uint64_t> seed;  ///< of synthetic weather
  Tick step = 0;
  std::size_t rows = 0;
  /// J/m2 on the horizontal on the median day of each month, January first; not a number where the record has no whole
  /// day of that month.
  std::array<double, 12> median_day{};
  std::optional<double> annual_kwh;  ///< kWh/m2 a year on the horizontal; none for a record shorter than 365 days
  std::string sha256;
};

/// How someone at the site sees the sun: air pressure of the standard atmosphere, 10 degC.
Observer observer_at(const Site&);

/// Weather over a span, seen from a site.
///
/// Light is constant over each row's interval, at its mean; the sun stands where it is in the middle of the interval's
/// sunlit part. Beam and diffuse come from the file where it has them, else the global radiation is split by Erbs,
/// Klein & Duffie 1982. Where the file has light and the sun stays below the true horizon, all of it is diffuse.
class Weather {
 public:
  /// A station year wrapped onto the calendar. The site decides the sun's path and what a day is; the file's own
  /// standard time decides which row applies. 29 February repeats the 28th. Air temperature is constant over each hour,
  /// at the mean of the values before and after it. from and to are days of the site's standard time, `to` included;
  /// from <= to.
  Weather(StationYear, Site, CivilDate from, CivilDate to);
  /// A measured record on its own days, which must cover the span without a gap. Rows that are longer than an hour are
  /// cut (sim/weather/pieces.hpp). Air temperature is constant over each row.
  Weather(MeasuredRecord, Site, CivilDate from, CivilDate to);

  Tick begin() const { return intervals_.front().begin; }
  Tick end() const { return intervals_.back().end; }
  /// Makes the air colder by so much (a difference) between two times, where intervals are cut; what is outside of the
  /// weather's span is left out.
  void cool(Tick from, Tick to, Temperature by);
  const std::vector<WeatherInterval>& intervals() const { return intervals_; }
  const Site& site() const { return site_; }
  const WeatherSource& source() const { return source_; }
  /// The file's own warnings first.
  const std::vector<std::string>& warnings() const { return warnings_; }
  /// What contradicts itself in the file: radiation-columns-do-not-close, clock-jumps.
  const std::vector<DesignFinding>& findings() const { return findings_; }

 private:
  WeatherSource source_;
  Site site_;
  std::vector<WeatherInterval> intervals_;
  std::vector<std::string> warnings_;
  std::vector<DesignFinding> findings_;
};

/// The begin of the span's first day and the end of its last, of the site's standard time.
struct TickSpan {
  Tick begin, end;
};
TickSpan ticks_of_span(const Site&, CivilDate from, CivilDate to);

}  // namespace overwinter
