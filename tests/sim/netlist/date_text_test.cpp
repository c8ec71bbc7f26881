#include "sim/netlist/date_text.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

std::string reason(const std::string& text) {
  TextFault why;
  CHECK_FALSE(parse_date("from", text, why).has_value());
  return why.message + (why.suggestion.empty() ? "" : " | " + why.suggestion);
}

}  // namespace

TEST_CASE("days as ISO 8601 writes them") {
  TextFault why;
  const auto date = parse_date("from", "2024-02-29", why);
  REQUIRE(date.has_value());
  CHECK(iso(*date) == "2024-02-29");
  CHECK(parse_date("from", "1700-01-01", why).has_value());
  CHECK(parse_date("from", "2261-12-31", why).has_value());
}

TEST_CASE("days that do not exist say why") {
  CHECK(reason("2024-02-30") == "2024-02-30 does not exist: February 2024 has 29 days | 2024-02-29");
  CHECK(reason("2023-02-29") == "2023-02-29 does not exist: February 2023 has 28 days | 2023-02-28");
  CHECK(reason("2024-04-31") == "2024-04-31 does not exist: April 2024 has 30 days | 2024-04-30");
  CHECK(reason("2024-13-01") == "2024-13-01 does not exist: a year has the months 01 to 12 | from: YYYY-MM-DD");
  CHECK(reason("2024-00-01") == "2024-00-01 does not exist: a year has the months 01 to 12 | from: YYYY-MM-DD");
  CHECK(reason("2024-01-00") == "2024-01-00 does not exist: a month begins with day 01 | from: YYYY-MM-DD");
  CHECK(reason("1699-12-31") == "the year must be from 1700 to 2261 | from: YYYY-MM-DD");
  CHECK(reason("2262-01-01") == "the year must be from 1700 to 2261 | from: YYYY-MM-DD");
}

TEST_CASE("other ways to write a day") {
  for (const char* text : {"", "today", "15.10.2024", "2024/10/15", "2024-10-5", "24-10-15", "2024-10-15T00:00",
                           "2024-10-1x", " 2024-10-15"}) {
    CHECK(reason(text).find("from must be a day written YYYY-MM-DD, not '") == 0);
  }
}

TEST_CASE("days in other forms are understood where they can be read in one way only") {
  const auto meant = [](const std::string& text) {
    const std::string all = reason(text);
    return all.substr(all.rfind(" | ") + 3);
  };
  CHECK(meant("15.10.2024") == "2024-10-15");
  CHECK(meant("5.4.2024") == "2024-04-05");
  CHECK(meant("15/10/2024") == "2024-10-15");
  CHECK(meant("10/15/2024") == "2024-10-15");
  CHECK(meant("2024/10/15") == "2024-10-15");
  CHECK(meant("2024-1-5") == "2024-01-05");
  CHECK(meant("2024-10-15 12:00") == "2024-10-15");
  for (const std::string unclear :
       {"05/04/2024", "15.10.24", "31.02.2025", "2024-10", "October", "", "20241015", "1.2.3.4"})
    CHECK(meant(unclear) == "from: YYYY-MM-DD");
}
