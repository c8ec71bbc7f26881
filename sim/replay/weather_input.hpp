// The weather a run or an ensemble is to have, read once and laid onto spans as often as needed.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/netlist/scenario.hpp"
#include "sim/weather/climate.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

class WeatherInput {
 public:
  /// The scenario's weather, seen from its site. `file` is read instead: one in the EPW layout at its own place, a CSV
  /// file with the columns that the scenario describes, at the scenario's site. A record must cover each of the spans.
  /// Throws InputError.
  WeatherInput(const Scenario&, const std::optional<std::string>& file, const std::vector<DaySpan>& spans);

  /// One of the spans. `seed`: in place of the scenario's, of synthetic weather.
  Weather over(DaySpan, std::optional<std::uint64_t> seed) const;

 private:
  using Read = std::variant<StationYear, MeasuredRecord, Climate>;
  static Read read(const Scenario&, const std::optional<std::string>& file, const std::vector<DaySpan>& spans);

  /// Without the scenario's faults.
  Weather undisturbed(DaySpan, std::optional<std::uint64_t> seed) const;

  Read read_;
  std::vector<TimedFault> faults_;  ///< those of the site change the weather
  Site site_;
  std::uint64_t seed_;
};

/// Whether WeatherInput lays one year's weather onto every year.
bool repeats_every_year(const Scenario&, const std::optional<std::string>& file);

/// The scenario's weather over its span, from `file` instead where one is given. Throws InputError.
Weather weather_of(const Scenario&, const std::optional<std::string>& file);

/// The scenario's span, moved to begin in another year; 29 February becomes the 28th where that year has none.
DaySpan span_in(const Scenario&, std::optional<int> year);

}  // namespace overwinter
