#include "models/control/alarm_match.hpp"

#include <cmath>
#include <ctime>
#include <limits>

namespace overwinter {

namespace {

constexpr double day = 86400;

/// Of the month, of a day since 1970-01-01.
int day_number(std::int64_t days) {
  const auto seconds = static_cast<std::time_t>(days * 86400);
  std::tm civil{};
  gmtime_r(&seconds, &civil);
  return civil.tm_mday;
}

/// The first instant after now that is whole periods away from the alarm.
double ahead_by(double period, double ahead) { return ahead + period * (std::floor(-ahead / period) + 1); }

}  // namespace

std::optional<double> first_match(AlarmMatch match, double ahead, Moment now) {
  if (match == AlarmMatch::year) return ahead > 0 ? std::optional(ahead) : std::nullopt;  // (3)
  if (match != AlarmMatch::date) return ahead_by(period(match).shortest.si(), ahead);     // (1)
  const double clock = static_cast<double>(now.utc + now.offset) / ticks_per_second;
  const auto alarm_day = static_cast<std::int64_t>(std::floor((clock + ahead) / day));
  double first = ahead_by(day, ahead);
  const auto moved = [&] { return alarm_day + std::llround((first - ahead) / day); };
  while (day_number(moved()) != day_number(alarm_day)) first += day;  // (2)
  return first;
}

MatchPeriod period(AlarmMatch match) {
  switch (match) {
    case AlarmMatch::seconds:
      return {Duration{60.0}, Duration{60.0}};
    case AlarmMatch::minutes:
      return {Duration{3600.0}, Duration{3600.0}};
    case AlarmMatch::hours:
      return {Duration{day}, Duration{day}};
    case AlarmMatch::weekday:
      return {Duration{7 * day}, Duration{7 * day}};
    case AlarmMatch::date:
      return {Duration{28 * day}, Duration{61 * day}};
    case AlarmMatch::year:
      break;
  }
  const Duration for_ever{std::numeric_limits<double>::infinity()};
  return {for_ever, for_ever};
}

}  // namespace overwinter
