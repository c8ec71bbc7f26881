// The climate of a place in a few numbers per month, from which weather can be made up.
#pragma once

#include <array>
#include <string>

#include "sim/site.hpp"

namespace overwinter {

using Months = std::array<double, 12>;  ///< January first

struct Climate {
  std::string place;
  Site site;
  Months clearness{};    ///< mean clearness index, 0.05...0.8
  Months air_celsius{};  ///< mean air temperature
  Months daily_range{};  ///< mean difference between a day's highest and lowest temperature, K
  Months day_spread{};   ///< standard deviation of the days' mean temperatures about the month's, K
  Months
      clear_day_effect{};  ///< correlation of a day's temperature with its clearness, -1...1; negative: clear is cold
  double day_persistence = 0.8;    ///< correlation of a day's temperature with the day before's, 0...0.99
  double dull_spell_days = 7;      ///< mean length of a dull regime, >= 1
  double settled_spell_days = 14;  ///< mean length of what lies between, >= 1
  double dull_factor = 0.6;        ///< mean clearness in a dull regime over the month's, 0.2...1
};

/// Reads a climate file: YAML, one mapping, every key of it required:
///   place, latitude_deg, longitude_deg, elevation_m, utc_offset_h,
///   clearness, air_degC, daily_range_K, day_spread_K, clear_day_effect   (twelve numbers each),
///   day_persistence, dull_spell_days, settled_spell_days, dull_factor.
/// Throws InputError with every fault: unreadable file, YAML error, unknown, doubled or missing key, wrong number.
Climate read_climate(const std::string& path);

}  // namespace overwinter
