// Numbers, times and sentences as the report writes them; the sentences stand on the terminal too.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "models/model.hpp"
#include "sim/report/facts.hpp"

namespace overwinter {

/// Whole numbers in full, others in up to six significant digits.
std::string figure(double value);

/// The same with a unit, or "not known".
std::string figure(std::optional<double> value, const std::string& unit);

/// "a, b: what they share" for notes of the form "a: what", "b: what".
std::vector<std::string> gathered(const std::vector<std::string>& notes);

/// The findings of a summary, each as one sentence with its suggestion.
std::vector<std::string> findings_of(const Facts& summary);

/// The faults that were in force, each as "panel-south: soiled, by 60 %, from ... to ...".
std::vector<std::string> faults_in(const Facts& summary);

/// How many thin moments a run had, how many of them were looked into, what that cost and came to; empty for none.
std::string zooms_of(const Facts& summary);
/// The mechanisms of brown-out that were at work, a line each.
std::vector<std::string> mechanisms_of(const Facts& summary);
/// What was given in place of the scenario's values, each as one sentence: "cell.capacity is 4 Ah, not 3000 mAh".
std::vector<std::string> overrides_of(const Facts& summary);

/// Behind a requirement that the scenario does not name.
extern const char* const by_default;

/// What a restart in vain is, and how it is counted.
extern const char* const restart_in_vain;

/// "3 sunny days came and went; most of the light was refused on 2 (charger: too cold)": for one episode of the
/// summary. Empty where no sunny day came.
std::string sunny_days_of(const Facts& episode);

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
