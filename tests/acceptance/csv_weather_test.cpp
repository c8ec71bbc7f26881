// The same weather as an EPW file and as CSV files gives the same instrument the same winter.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <string>

#include "sim/replay/replay.hpp"
#include "sim/weather/epw.hpp"
#include "tests/support/program.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;

namespace {

constexpr CivilDate from{2024, 11, 1}, to{2024, 11, 14};
constexpr Tick minute = 60 * ticks_per_second, hour = 60 * minute;
const std::string columns =
    "{file: mast.csv, time: {column: time, stamp: end}, global_horizontal: {column: GHI, unit: W/m2}, "
    "direct_normal: {column: DNI, unit: W/m2}, diffuse_horizontal: {column: DHI, unit: W/m2}, "
    "air_temperature: {column: air, unit: degC}}";

std::string peat_bog() { return std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.epw"; }

/// The station's rows on the days of the span, each of them repeated: the means of the hour in every step.
std::string exported(Tick step, bool overcast) {
  const StationYear year = read_epw(peat_bog());
  const auto first =
      static_cast<std::size_t>(days_since_epoch({2023, from.month, from.day}) - days_since_epoch({2023, 1, 1})) * 24;
  const auto hours = static_cast<std::size_t>(days_since_epoch(to) - days_since_epoch(from) + 1) * 24;
  std::string text = "time,GHI,DNI,DHI,air\n";
  for (std::size_t h = 0; h < hours; ++h) {
    const StationRecord &now = year.hours[first + h], &before = year.hours[first + h - 1];
    for (Tick t = step; t <= hour; t += step) {
      const Tick stamp = days_since_epoch(from) * ticks_per_day + static_cast<Tick>(h) * hour + t;
      text += fmt::format("{},{},{},{},{}\n", clock_text(stamp), now.global_horizontal, overcast ? 0 : now.beam_normal,
                          overcast ? now.global_horizontal : now.diffuse_horizontal,
                          (before.air_celsius + now.air_celsius) / 2);
    }
  }
  return text;
}

std::string scenario(const std::string& weather) {
  std::string text = test::shipped("peat-bog-better.yaml", {{"span: {from: 2024-10-15, to: 2025-01-20}",
                                                             "span: {from: " + iso(from) + ", to: " + iso(to) + "}"}});
  const std::string shipped_weather = "{file: " + peat_bog() + "}";
  return text.replace(text.find(shipped_weather), shipped_weather.size(), weather);
}

struct Stored {
  double least, last;  // state of charge
  double offered;      // J, what the panels could have given
};

Stored stored_after(const test::Scratch& scratch, const std::string& weather) {
  ReplayOptions options;
  options.out = scratch.path("out");
  const auto summary = replay(read_scenario(scratch.write("scenario.yaml", scenario(weather))), options).summary;
  return {summary.at("cell").at("soc_min"), summary.at("cell").at("soc_end"),
          summary.at("energy").at("harvest_offered_J")};
}

Stored stored_with_csv(Tick step, bool overcast) {
  const test::Scratch scratch;
  scratch.write("mast.csv", exported(step, overcast));
  return stored_after(scratch, columns);
}

}  // namespace

TEST_CASE("CSV weather: an hourly export of a station file replays as the station file does") {
  const Stored epw = stored_after(test::Scratch(), "{file: " + peat_bog() + "}");
  const Stored csv = stored_with_csv(hour, false);
  CHECK(std::abs(csv.last - epw.last) < 1e-9);
  CHECK(std::abs(csv.least - epw.least) < 1e-9);
}

// Under an overcast sky the light on a panel does not depend on where the sun is: nothing but the integration's
// tolerance is left (measured: 5e-10) between an hour and its sixty minutes.
TEST_CASE("CSV weather: an overcast hour and its sixty minutes charge alike") {
  const Stored hourly = stored_with_csv(hour, true), by_minute = stored_with_csv(minute, true);
  CHECK(std::abs(by_minute.last - hourly.last) < 1e-8);
  CHECK(std::abs(by_minute.least - hourly.least) < 1e-8);
}

// With direct light the sun moves through the hour that one position stands for: measured 0.06 %.
TEST_CASE("CSV weather: an hour of sun and its sixty minutes differ by the sun's path only") {
  const Stored hourly = stored_with_csv(hour, false), by_minute = stored_with_csv(minute, false);
  CHECK(by_minute.offered != hourly.offered);
  CHECK(by_minute.offered == doctest::Approx(hourly.offered).epsilon(0.005));
}

TEST_CASE("CSV weather: another file in its place has its columns and its site, a station file its own place") {
  const test::Scratch scratch;
  scratch.write("mast.csv", exported(hour, false));
  const Scenario s = read_scenario(scratch.write("scenario.yaml", scenario(columns)));
  const std::string other = scratch.write("other.csv", exported(10 * minute, true));
  const Weather csv = weather_of(s, other);
  CHECK(csv.source().place == "other.csv");
  CHECK(csv.source().step == 10 * minute);
  CHECK(csv.site().elevation == s.site->elevation);
  const Weather epw = weather_of(s, peat_bog());
  CHECK(epw.source().place == "Invented upland peat bog");
  CHECK(epw.source().step == hour);
}

TEST_CASE("CSV weather: what check and run print of it") {
  const test::Scratch scratch;
  scratch.write("mast.csv", exported(hour, false));
  const std::string file = scratch.write("scenario.yaml", scenario(columns));
  const test::Said checked = test::overwinter_says("check " + file, scratch);
  CHECK(checked.code == 0);
  CHECK(checked.says("Weather  mast.csv: 336 rows, one every 1 h; in the span "));
  const test::Said ran = test::overwinter_says("run " + file + " --out " + scratch.path("out"), scratch);
  CHECK(ran.says("2024-11-01 to 2024-11-14 (14 d), weather: mast.csv\n"));
  const auto summary = nlohmann::json::parse(scratch.read("out/summary.json"));
  CHECK(summary.at("weather").at("years") == std::vector<int>{2024});
  CHECK(summary.at("weather").at("step_s") == 3600);
  CHECK(summary.at("weather").at("annual_kWh_m2").is_null());
  CHECK(summary.at("inputs_sha256").contains(scratch.path("mast.csv")));
}
