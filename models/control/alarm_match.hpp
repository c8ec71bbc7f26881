// When a calendar clock's alarm comes: at the first instant after its writing at which the compared registers match.
//
// A calendar clock compares the registers of its alarm with those of its time: seconds, minutes, hours, and then the
// day of the week or of the month. Each can be masked, from the highest down (common practice for calendar clocks on a
// register bus). What is masked is not compared, so that the alarm comes again and again:
//   (1) t = first instant after now with t = alarm (mod P); P = 60 s, 3600 s, 1 day, 1 week   for a mask of that kind
//   (2) the same with P = 1 day, and on a day of the month that has the alarm's number        day of the month compared
//   (3) t = alarm where that is after now, otherwise never                                    all compared, the year
//   too
// An alarm that is past when it is written is thus missed by up to a period, one further ahead than a period comes
// early. Where nothing is masked and the alarm is ahead, t = alarm.
//
// The clock's calendar is taken to be that of the site's standard time, whatever it has drifted.
#pragma once

#include <optional>

#include "models/model.hpp"

namespace overwinter {

/// The highest register that is compared.
enum class AlarmMatch { year, date, weekday, hours, minutes, seconds };

/// Seconds from `now` to the match of an alarm that was meant to come `ahead` seconds from now (0 and less: it is
/// past); none where it never comes.
std::optional<double> first_match(AlarmMatch, double ahead, Moment now);

/// How far two matches of one alarm are apart. The day of the month: 28 days from one February to March, 61 where
/// a month has no 31st. Infinite where the year is compared.
struct MatchPeriod {
  Duration shortest{}, longest{};
};
MatchPeriod period(AlarmMatch);

}  // namespace overwinter
