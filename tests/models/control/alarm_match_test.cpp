#include "models/control/alarm_match.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace overwinter;

namespace {

constexpr double hour = 3600, day = 86400;

/// An instant of 2024 to 2026 at a site one hour east of the prime meridian, days since 1970-01-01.
Moment at(std::int64_t days, double seconds = 0) {
  const Tick offset = 3600 * ticks_per_second;
  return {days * ticks_per_day + static_cast<Tick>(seconds * ticks_per_second) - offset, offset};
}

constexpr std::int64_t january_1st_2025 = 20089;  // POSIX: 55 years of 365 days and 14 leap days

}  // namespace

TEST_CASE("alarm match: an alarm that is ahead by no more than the period comes as it was meant") {
  for (const AlarmMatch match : {AlarmMatch::year, AlarmMatch::date, AlarmMatch::weekday, AlarmMatch::hours,
                                 AlarmMatch::minutes, AlarmMatch::seconds}) {
    for (const double ahead : {1e-6, 1.0, 59.0, 60.0}) CHECK(first_match(match, ahead, at(january_1st_2025)) == ahead);
  }
  CHECK(first_match(AlarmMatch::minutes, hour, at(0)) == hour);
  CHECK(first_match(AlarmMatch::hours, day, at(0)) == day);
  CHECK(first_match(AlarmMatch::weekday, 7 * day, at(0)) == 7 * day);
  CHECK(first_match(AlarmMatch::date, 28 * day, at(january_1st_2025)) == 28 * day);
  CHECK(first_match(AlarmMatch::year, 366 * day, at(0)) == 366 * day);
}

// What a missed alarm costs: seconds compared 1 min, minutes 1 h, hours 24 h, day of the week 7 d. By the registers'
// definition: common practice for calendar clocks.
TEST_CASE("alarm match (1): an alarm in the past comes a period later") {
  const struct {
    AlarmMatch match;
    double period;
  } all[] = {
      {AlarmMatch::seconds, 60}, {AlarmMatch::minutes, hour}, {AlarmMatch::hours, day}, {AlarmMatch::weekday, 7 * day}};
  for (const auto& one : all) {
    CHECK(first_match(one.match, 0, at(0)) == one.period);
    CHECK(first_match(one.match, -4.5, at(0)) == one.period - 4.5);
    CHECK(first_match(one.match, -3 * one.period - 4.5, at(0)) == one.period - 4.5);
    CHECK(period(one.match).shortest.si() == one.period);
    CHECK(period(one.match).longest.si() == one.period);
  }
}

TEST_CASE("alarm match (1): an alarm further ahead than a period comes early") {
  CHECK(first_match(AlarmMatch::seconds, 90, at(0)) == 30);
  CHECK(first_match(AlarmMatch::minutes, 2 * hour, at(0)) == hour);
  CHECK(first_match(AlarmMatch::minutes, 24 * hour - 85.5, at(0)) == hour - 85.5);
  CHECK(first_match(AlarmMatch::hours, 30 * hour, at(0)) == 6 * hour);
  CHECK(first_match(AlarmMatch::weekday, 8 * day, at(0)) == day);
}

TEST_CASE("alarm match (2): the day of the month") {
  const auto date = [](std::int64_t days, double ahead, double time_of_day = 0) {
    return first_match(AlarmMatch::date, ahead, at(days, time_of_day));
  };
  // A minute past on the morning of 15 January: 15 February. Of 15 February: 15 March, 28 days on.
  CHECK(date(january_1st_2025 + 14, -60, 8 * hour) == 31 * day - 60);
  CHECK(date(january_1st_2025 + 45, -60, 8 * hour) == 28 * day - 60);
  // The 31st of January: there is no 31st of February. 59 days, in a leap year 60.
  CHECK(date(january_1st_2025 + 30, -60, 8 * hour) == 59 * day - 60);
  CHECK(date(january_1st_2025 - 366 + 30, -60, 8 * hour) == 60 * day - 60);
  // The 31st of March, to May.
  CHECK(date(january_1st_2025 + 89, -60, 8 * hour) == 61 * day - 60);
  // Just before midnight of the site the alarm was on the day before.
  CHECK(date(january_1st_2025 + 14, -60, 30) == 30 * day + day - 60);
  // 40 days ahead from 1 January is 10 February: 10 January comes first.
  CHECK(date(january_1st_2025, 40 * day) == 9 * day);
  // 31 March from 1 February: 31 January is over.
  CHECK(date(january_1st_2025 + 31, 58 * day) == 58 * day);
  CHECK(period(AlarmMatch::date).shortest.si() == 28 * day);
  CHECK(period(AlarmMatch::date).longest.si() == 61 * day);
}

TEST_CASE("alarm match (3): where the year is compared an alarm in the past never comes") {
  CHECK_FALSE(first_match(AlarmMatch::year, 0, at(0)));
  CHECK_FALSE(first_match(AlarmMatch::year, -1e-6, at(0)));
  CHECK(std::isinf(period(AlarmMatch::year).shortest.si()));
}
