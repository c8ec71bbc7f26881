#include "sim/netlist/time_text.hpp"

#include <doctest/doctest.h>

#include "sim/netlist/scenario.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second, minute = 60 * second, hour = 60 * minute;

Tick at(CivilDate date, Tick in_day = 0) { return days_since_epoch(date) * ticks_per_day + in_day; }

std::optional<Tick> local(const std::string& form, const std::string& text) {
  TextFault why;
  const std::optional<TimeForm> f = TimeForm::parse("form", form, why);
  REQUIRE_MESSAGE(f, why.message);
  const auto time = f->read(text);
  return time ? std::optional<Tick>(time->local) : std::nullopt;
}

std::string refusal(const std::string& form) {
  TextFault why;
  return TimeForm::parse("form", form, why) ? "none" : why.message;
}

}  // namespace

TEST_CASE("times as ISO 8601 has them, with and without an offset") {
  const TimeForm iso;
  const Tick morning = at({2024, 10, 15}, 6 * hour + 30 * minute);
  for (const char* text : {"2024-10-15 06:30", "2024-10-15T06:30", "2024-10-15T06:30:00", "2024-10-15T06:30:00.000"}) {
    CAPTURE(text);
    REQUIRE(iso.read(text));
    CHECK(iso.read(text)->local == morning);
    CHECK(!iso.read(text)->offset);
  }
  CHECK(iso.read("2024-10-15")->local == at({2024, 10, 15}));
  CHECK(iso.read("2024-10-15 24:00")->local == at({2024, 10, 16}));
  CHECK(iso.read("2024-10-15 06:30:01.25")->local == morning + second + second / 4);
  CHECK(iso.read("2024-10-15T06:30Z")->offset == Tick{0});
  CHECK(iso.read("2024-10-15T06:30:00+01:00")->offset == hour);
  CHECK(iso.read("2024-10-15 06:30 -0330")->offset == -(3 * hour + 30 * minute));
  CHECK(iso.read("2024-10-15T06:30+05")->offset == 5 * hour);
}

TEST_CASE("texts that are no time") {
  const TimeForm iso;
  for (const char* text : {"", "2024", "2024-10", "2024-13-01", "2024-02-30", "2023-02-29", "1900-02-29",
                           "2024-10-15 25:00", "2024-10-15 24:01", "2024-10-15 06:60", "2024-10-15 06:30:60",
                           "2024-10-15 6:30", "2024-10-15 06:30 pm", "2024-10-15 06:30+15:00",
                           "2024-10-15 06:30+01:", "2024-10-15 06:30:00.", "15.10.2024", "0024-10-15", "2024-10-15x"}) {
    CAPTURE(text);
    CHECK(!iso.read(text));
  }
  CHECK(iso.read("2024-02-29"));
  CHECK(iso.read("2000-02-29"));
}

TEST_CASE("times in a form of one's own") {
  const Tick morning = at({2024, 3, 5}, 6 * hour + 7 * minute);
  CHECK(local("DD.MM.YYYY hh:mm", "05.03.2024 06:07") == morning);
  CHECK(local("DD.MM.YYYY hh:mm", "5.3.2024 6:07") == morning);
  CHECK(local("MM/DD/YYYY hh:mm", "3/5/2024 6:07") == morning);
  CHECK(local("YYYYMMDDhhmm", "202403050607") == morning);
  CHECK(local("YYYYMMDDhhmm", "20243050607") == std::nullopt);
  CHECK(local("YYYY-MM-DDThh:mm:ss", "2024-03-05T06:07:30.5") == morning + 30 * second + second / 2);
  CHECK(local("DD.MM.YYYY", "05.03.2024") == at({2024, 3, 5}));
  CHECK(local("DD.MM.YYYY hh:mm", "05.03.2024") == std::nullopt);
  CHECK(local("DD.MM.YYYY", "05.03.2024 06:07") == std::nullopt);
  CHECK(local("DD.MM.YYYY", "05/03/2024") == std::nullopt);
}

TEST_CASE("forms that say no time") {
  CHECK(refusal("DD.MM.YYYY hh:mm:ss") == "none");
  CHECK(refusal("hh:mm") == "form does not say where year, month and day stand");
  CHECK(refusal("DD.MM.YY") == "form has a 'Y' that is no part of a time");
  CHECK(refusal("%d.%m.%Y") == "form has a 'd' that is no part of a time");
  CHECK(refusal("DD.MM.YYYY hh:MM") == "form has MM twice");
}

TEST_CASE("a time is told to the minute, or to the second where it has seconds") {
  CHECK(clock_text(at({2024, 10, 15}, 6 * hour + 5 * minute)) == "2024-10-15 06:05");
  CHECK(clock_text(at({1969, 12, 31}, 23 * hour + 59 * second)) == "1969-12-31 23:00:59");
}
