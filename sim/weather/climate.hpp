// The climate of a place in a few numbers per month, from which weather can be made up.
#pragma once

#include <array>
#include <string>

#include "sim/site.hpp"

namespace overwinter {

using Months = std::array<double, 12>;  ///< January first

struct Climate {
  std::string path, sha256;  ///< of the file and of its bytes
  std::string place;
  Site site;
  Months clearness{};    ///< mean clearness index, 0.05...0.8
  Months air{};          ///< mean air temperature, K
  Months daily_range{};  ///< mean difference between a day's highest and lowest temperature, K
  Months day_spread{};   ///< standard deviation of the days' mean temperatures about the month's, K
  Months
      clear_day_effect{};  ///< correlation of a day's temperature with its clearness, -1...1; negative: clear is cold
  double day_persistence = 0.8;          ///< correlation of a day's temperature with the day before's, 0...0.99
  Duration dull_spell{7 * 86400.0};      ///< mean length of a dull regime, 1...100 d
  Duration settled_spell{14 * 86400.0};  ///< mean length of what lies between, 1...1000 d
  double dull_factor = 0.6;              ///< mean clearness in a dull regime over the month's, 0.2...1
};

/// Reads a climate file: YAML, one mapping, every key required. Values are written as in a scenario:
///   place: NAME
///   latitude, longitude, elevation, utc_offset, day_persistence, dull_spell, settled_spell, dull_factor: one value
///   clearness, air, daily_range, day_spread, clear_day_effect: twelve numbers and their unit, January first
/// Throws InputError with every fault: unreadable file, bad YAML, unknown or missing key, wrong count, unit or range.
Climate read_climate(const std::string& path);

}  // namespace overwinter
