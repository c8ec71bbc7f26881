// Numbers and times as the report writes them.
#pragma once

#include <optional>
#include <string>

#include "models/model.hpp"

namespace overwinter {

/// Up to six significant digits.
std::string figure(double value);

/// The same with a unit, or "not known".
std::string figure(std::optional<double> value, const std::string& unit);

/// The instant of an ISO 8601 text in UTC such as "2025-01-24T13:03:21Z", seconds with or without decimals; none for
/// any other text.
std::optional<Tick> tick_of(const std::string& iso_utc);

/// Shows instants on the site's standard time.
class SiteClock {
 public:
  /// offset: standard time minus UTC, in ticks.
  explicit SiteClock(Tick offset) : offset_(offset) {}
  Tick offset() const { return offset_; }
  /// "2025-01-24 13:03".
  std::string minute(Tick utc) const;
  /// "2025-01-24 13:03:21".
  std::string second(Tick utc) const;
  /// "2025-01-24".
  std::string day(Tick utc) const;
  /// As second(Tick) for an ISO 8601 text in UTC; any other text comes back as it is.
  std::string second(const std::string& iso_utc) const;
  /// "UTC", "UTC+05:30", "UTC-03:00".
  std::string name() const;

 private:
  Tick offset_;
};

}  // namespace overwinter
