#include "sim/report/story_text.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;

/// E = 3 V, R0 = 0.4 ohm, Rp = 0.1 ohm, P = 1.62 W: V = (3 + sqrt(9 - 4 0.5 1.62)) / 2 = (3 + 2.4) / 2 = 2.7 V,
/// I = 1.62 / 2.7 = 0.6 A, at the terminals 3 - 0.4 0.6 = 2.76 V. At most 9 / (4 0.5) = 4.5 W.
Story by_hand() {
  Snapshot s;
  s.time = 20 * ticks_per_day + hour;
  s.part = "guard";
  s.event = "over-discharge trip";
  s.charge = 0.14;
  s.temperature = 273.15 - 6;
  s.voltage = 2.76;
  s.current = 0.6;
  s.series = 0.4;
  s.crossed = Snapshot::Crossed{"over-discharge", 2.75, 2.7, 0.1};
  s.doing = "send";
  s.in_phase = true;
  s.users = {{"radio", 1.5}, {"logger", 0.045}, {"probe", 0.001}};
  Story story;
  story.moment = s;
  story.light = LightBefore{2, 18, 0.6 * 3.6e6, 1.5 * 3.6e6, true};
  story.charge_before = 0.62;
  story.charge_in = 18 * 0.020 * 3600;
  story.charge_out = 18 * 0.100 * 3600;
  story.days_since = 18;
  story.energy_in_vain = 171;
  story.blocked = {{20 * ticks_per_day + hour, "guard", "over-discharge trip"}};
  return story;
}

BrownOut episode() {
  BrownOut b;
  b.begin = 20 * ticks_per_day + hour;
  b.end = 25 * ticks_per_day;
  b.chain = {{b.begin, "guard", "over-discharge trip"}, {b.begin, "logger", "brown-out"}};
  b.attempts = 645;
  return b;
}

std::vector<std::string> sentences(const Facts& story) {
  std::vector<std::string> all;
  for (const Facts& link : story.at("links")) all.push_back(text_of(link.at("text")));
  return all;
}

}  // namespace

TEST_CASE("a chain in plain words, with numbers worked out by hand") {
  const Facts j = story_json(by_hand(), episode(), {{"sunny_days", 1}}, 0);
  CHECK(sentences(j) ==
        std::vector<std::string>{
            "a dark spell of 18 days begins: 40 % of the light of their months' median days, 0.60 in place of 1.50 "
            "kWh/m2 a day",
            "the cell is at 62.0 %; from here to the brown-out 100 mAh a day go out of it and 20 mAh a day come in",
            "the cell is at 14.0 % and -6.0 degC: 3.00 V behind 0.40 ohm of its own and 0.10 ohm on the way to guard",
            "in phase send 1.62 W are drawn from it, 600 mA at 2.70 V, of which radio 1.5 W, logger 45 mW",
            "2.70 V left for guard, whose threshold is 2.75 V: over-discharge trip", "logger: brown-out",
            "no wake has been completed when the span ends; 645 further attempts came to nothing; 171.0 J were used up "
            "in starts in vain; guard does not feed since 1970-01-21T01:00:00Z (over-discharge trip); 1 sunny day came "
            "and went"});
  CHECK(j.at("links")[0].at("time") == "1970-01-03T00:00:00Z");
  CHECK(j.at("links")[4].at("time") == "1970-01-21T01:00:00Z");
  CHECK(j.at("moment").at("inner_voltage_V").get<double>() == doctest::Approx(3));
  CHECK(j.at("moment").at("drawn_W").get<double>() == doctest::Approx(1.62));
  CHECK(j.at("moment").at("threshold").at("limit_V") == 2.75);
  CHECK(j.at("light").at("dark_spell") == true);
  CHECK(j.at("charge_out_Ah").get<double>() == doctest::Approx(1.8));
}

TEST_CASE("a source near its limit says so: E^2 / 4 R") {
  Story story = by_hand();
  Snapshot& s = *story.moment;  // 4 W of 4.5: V = (3 + sqrt(9 - 8)) / 2 = 2 V, I = 2 A, 2.2 V at the terminals
  s.current = 2;
  s.voltage = 2.2;
  s.crossed = Snapshot::Crossed{"over-discharge", 2.75, 2.0, 0.1};
  CHECK(sentences(story_json(story, episode(), {}, 0))[3] ==
        "in phase send 4 W are drawn from it, 2 A at 2.00 V, of which radio 1.5 W; through this resistance 4.5 W at "
        "most");
}

TEST_CASE("what is not known is not told") {
  Story story;
  BrownOut b = episode();
  b.recovered = b.end;
  b.outcome = Outcome::recovered;
  b.attempts = 0;
  const Facts j = story_json(story, b, {{"sunny_days", 2}}, 0);
  CHECK(sentences(j) == std::vector<std::string>{"guard: over-discharge trip", "logger: brown-out",
                                                 "a wake is completed again after 4.96 d"});
  CHECK(j.at("moment").is_null());
  CHECK(j.at("light").is_null());

  story.moment = Snapshot();
  story.moment->time = b.begin + hour;
  story.moment->voltage = 3.9;
  story.moment->series = 0.3;
  story.moment->current = -0.01;
  story.moment->temperature = 273.15;
  story.moment->doing = "idle";
  CHECK(sentences(story_json(story, b, {}, 0)) ==
        std::vector<std::string>{"guard: over-discharge trip", "logger: brown-out",
                                 "the cell is at 0.0 % and 0.0 degC: 3.90 V behind 0.30 ohm of its own",
                                 "with the controller idle nothing is drawn from it",
                                 "a wake is completed again after 4.96 d"});
}

TEST_CASE("the mechanism behind it is told after the first link") {
  BrownOut b = episode();
  b.cause_id = "protector-trip";
  b.cause_text = "guard opened";
  const std::vector<std::string> with = sentences(story_json(by_hand(), b, {{"sunny_days", 1}}, 0)),
                                 without = sentences(story_json(by_hand(), episode(), {{"sunny_days", 1}}, 0));
  REQUIRE(with.size() == without.size() + 1);
  const auto told = std::find(with.begin(), with.end(), "protector-trip: guard opened");
  REQUIRE(told != with.end());
  CHECK((told - 1)->find("over-discharge trip") != std::string::npos);
}
