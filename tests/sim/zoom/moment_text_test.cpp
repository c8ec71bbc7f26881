#include "sim/zoom/moment_text.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr Tick day = 20'011 * ticks_per_day;  // 2024-10-15

/// Two days at a site one hour east of Greenwich.
const MomentSpan span{day - hour, day - hour + 2 * ticks_per_day, hour};

std::optional<Tick> read(const std::string& text) {
  TextFault why;
  return parse_moment(text, span, why);
}

std::string fault(const std::string& text) {
  TextFault why;
  CHECK_FALSE(parse_moment(text, span, why));
  return why.message + " | " + why.suggestion;
}

}  // namespace

TEST_CASE("a moment is on the site's standard time unless it says otherwise") {
  CHECK(read("2024-10-15T02:00:00.226109331Z") == day + 2 * hour + 226'109'331);
  CHECK(read("2024-10-15 02:00:00.5") == day + hour + ticks_per_second / 2);
  CHECK(read("2024-10-15T02:00+02:00") == day);
  CHECK(read("2024-10-15") == span.begin);
  CHECK(read("2024-10-16T22:59:59.999999999Z") == span.end - 1);
}

TEST_CASE("what is no moment, and what lies outside the span") {
  for (const std::string text : {"", "noon", "15.10.2024 02:00", "2024-10-15 25:00", "2024-02-30", "12"}) {
    CHECK(fault(text) == "'" + text +
                             "' is no time | write YYYY-MM-DD hh:mm:ss such as \"2024-10-15 00:00\", on the site's "
                             "standard time, or in UTC with a Z behind it");
  }
  const std::string outside =
      " lies outside the scenario's span | a time from 2024-10-15 00:00 to before 2024-10-17 00:00 of the site's "
      "standard time";
  for (const std::string text : {"2024-10-14T22:59:59.999999999Z", "2024-10-17", "2023-10-15 12:00"}) {
    CHECK(fault(text) == "'" + text + "'" + outside);
  }
}

TEST_CASE("numbers of events and of brown-outs") {
  TextFault why;
  const auto event = parse_event_number("12", why);
  REQUIRE(event);
  CHECK_FALSE(event->brownout);
  CHECK(event->number == 12);
  for (const char* text : {"B2", "b2"}) {
    const auto brownout = parse_event_number(text, why);
    REQUIRE(brownout);
    CHECK(brownout->brownout);
    CHECK(brownout->number == 2);
  }
  for (const std::string text : {"", "B", "0", "B0", "-1", "1.5", "x", "1B", "99999999999"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_event_number(text, why));
    CHECK(why.message == "'" + text + "' is neither an event nor a brown-out");
    CHECK_FALSE(why.suggestion.empty());
  }
}
