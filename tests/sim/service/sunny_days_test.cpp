#include "sim/service/sunny_days.hpp"

#include <doctest/doctest.h>

#include "tests/sim/service/support/scripted.hpp"

using namespace overwinter;
using test::station_year;

namespace {

constexpr std::size_t first_hour_of_april = 90 * 24, first_hour_of_march = 59 * 24;

/// W/m2 at noon only, growing by 1 from day to day of the year: 1 January has 1, 31 December 365.
double by_day_of_year(std::size_t hour) { return hour % 24 == 12 ? static_cast<double>(hour / 24 + 1) : 0.0; }

Site east_by(double utc_offset_hours) {
  Site site;
  site.utc_offset = Duration{3600 * utc_offset_hours};
  return site;
}

}  // namespace

TEST_CASE("sunny days: a month's median is the middle day's light, or the mean of the two middle days'") {
  const SunnyDays s(Weather(station_year(by_day_of_year), Site{}, {2025, 1, 1}, {2025, 1, 1}));
  // An odd month's 16th; the mean of the 14th and 15th of February, of the 15th and 16th of a month of 30 days.
  const double middle_day[] = {16,       31 + 14.5, 59 + 16,    90 + 15.5, 120 + 16,   151 + 15.5,
                               181 + 16, 212 + 16,  243 + 15.5, 273 + 16,  304 + 15.5, 334 + 16};
  for (std::size_t month = 0; month < 12; ++month) {
    CAPTURE(month);
    CHECK(s.median_of_month[month] == doctest::Approx(middle_day[month] * 3600).epsilon(1e-12));
  }
}

TEST_CASE("sunny days: the median does not depend on the order of the days") {
  const auto shuffled = [](std::size_t hour) {
    return hour % 24 == 12 ? static_cast<double>(hour / 24 * 11 % 31 + 1) : 0.0;  // January: 1...31, each once
  };
  const SunnyDays s(Weather(station_year(shuffled), Site{}, {2025, 1, 1}, {2025, 1, 31}));
  CHECK(s.median_of_month[0] == 16 * 3600);
  CHECK(std::count(s.sunny.begin(), s.sunny.end(), true) == 16);
}

TEST_CASE("sunny days: the median day itself is sunny, one below it is not; each day has its own month's median") {
  const SunnyDays s(Weather(station_year(by_day_of_year), Site{}, {2025, 3, 1}, {2025, 4, 30}));
  REQUIRE(s.light.size() == 61);
  REQUIRE(s.sunny.size() == 61);
  for (std::size_t day = 0; day < 61; ++day) {
    CAPTURE(day);
    CHECK(s.light[day] == doctest::Approx((60.0 + static_cast<double>(day)) * 3600).epsilon(1e-12));
    CHECK(s.sunny[day] == (day < 31 ? day >= 15 : day - 31 >= 15));
  }
}

TEST_CASE("sunny days: a day is one of the site's standard time") {
  // All light of the file's 1 April falls into its last hour, 23:00 to 24:00 UTC; at a site two hours east of it that
  // is 2 April, at one two hours west 1 April.
  const auto late = [](std::size_t hour) { return hour == first_hour_of_april + 23 ? 500.0 : 0.0; };
  const SunnyDays east(Weather(station_year(late), east_by(2), {2025, 4, 1}, {2025, 4, 3}));
  CHECK(east.light == std::vector<double>{0, 500.0 * 3600, 0});
  const SunnyDays west(Weather(station_year(late), east_by(-2), {2025, 4, 1}, {2025, 4, 3}));
  CHECK(west.light == std::vector<double>{500.0 * 3600, 0, 0});
  CHECK(west.sunny == std::vector<bool>{true, false, false});
}

TEST_CASE("sunny days: an hour that midnight cuts is shared between the days") {
  const auto late = [](std::size_t hour) { return hour == first_hour_of_april + 23 ? 500.0 : 0.0; };
  const SunnyDays s(Weather(station_year(late), east_by(0.5), {2025, 4, 1}, {2025, 4, 2}));
  CHECK(s.light == std::vector<double>{500.0 * 1800, 500.0 * 1800});
}

TEST_CASE("sunny days: 29 February has the 28th's light and February's median") {
  const SunnyDays s(Weather(station_year(by_day_of_year), Site{}, {2024, 2, 28}, {2024, 3, 1}));
  REQUIRE(s.light.size() == 3);
  CHECK(s.light[0] == s.light[1]);
  CHECK(s.light[1] == doctest::Approx(59 * 3600).epsilon(1e-12));
  CHECK(s.light[2] == doctest::Approx(60 * 3600).epsilon(1e-12));
  CHECK(s.sunny == std::vector<bool>{true, true, false});
}

TEST_CASE("sunny days: no day without light is sunny, though it has the median's") {
  const SunnyDays s(Weather(station_year([](std::size_t hour) { return hour == first_hour_of_march + 12 ? 1.0 : 0.0; }),
                            Site{}, {2025, 3, 1}, {2025, 3, 3}));
  CHECK(s.median_of_month[2] == 0);
  CHECK(s.sunny == std::vector<bool>{true, false, false});
}
