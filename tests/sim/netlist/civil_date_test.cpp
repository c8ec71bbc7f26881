#include <doctest/doctest.h>

#include "sim/netlist/scenario.hpp"

using namespace overwinter;

TEST_CASE("days since 1970-01-01 are modified Julian days less 40587") {
  // Modified Julian days: Explanatory Supplement to the Astronomical Almanac (1992), table 15.11: MJD 0 is 1858-11-17,
  // 51544 is 2000-01-01. Exact.
  CHECK(days_since_epoch({1858, 11, 17}) == 0 - 40587);
  CHECK(days_since_epoch({2000, 1, 1}) == 51544 - 40587);
  CHECK(days_since_epoch({1970, 1, 1}) == 0);
  CHECK(days_since_epoch({1969, 12, 31}) == -1);
}

TEST_CASE("leap years follow the Gregorian rule") {
  CHECK(days_since_epoch({2024, 3, 1}) - days_since_epoch({2024, 2, 28}) == 2);
  CHECK(days_since_epoch({2023, 3, 1}) - days_since_epoch({2023, 2, 28}) == 1);
  CHECK(days_since_epoch({2000, 3, 1}) - days_since_epoch({2000, 2, 28}) == 2);
  CHECK(days_since_epoch({2100, 3, 1}) - days_since_epoch({2100, 2, 28}) == 1);
}

TEST_CASE("every day from 1700 to 2261 comes back") {
  const std::int64_t first = days_since_epoch({1700, 1, 1});
  const std::int64_t last = days_since_epoch({2261, 12, 31});
  CivilDate before = civil_date(first - 1);
  for (std::int64_t day = first; day <= last; ++day) {
    const CivilDate date = civil_date(day);
    REQUIRE(days_since_epoch(date) == day);
    const bool next_day = date.day == before.day + 1 && date.month == before.month && date.year == before.year;
    REQUIRE((next_day || date.day == 1));
    before = date;
  }
}

TEST_CASE("ISO 8601") {
  CHECK(iso({2024, 10, 5}) == "2024-10-05");
  CHECK(iso(civil_date(0)) == "1970-01-01");
}
