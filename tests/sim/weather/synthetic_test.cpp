#include "sim/weather/synthetic.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <numeric>
#include <string>
#include <vector>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "sim/weather/epw.hpp"

using namespace overwinter;

namespace {

constexpr std::array<int, 13> month_begins{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365};
constexpr Tick hour = 3600 * ticks_per_second;

Climate upland_bog() { return read_climate(OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml"); }

/// The same clearness all year.
Climate steady_climate(double clearness, double latitude_deg) {
  Climate climate = upland_bog();
  climate.clearness.fill(clearness);
  climate.site.latitude = latitude_deg * units::degree;
  return climate;
}

double month_mean(const std::vector<double>& days, std::size_t month) {
  const auto begin = days.begin() + month_begins[month], end = days.begin() + month_begins[month + 1];
  return std::accumulate(begin, end, 0.0) / static_cast<double>(end - begin);
}

IntervalSun sun_of(const Climate& climate, std::size_t row) {
  const Tick at = days_since_epoch({2001, 1, 1}) * ticks_per_day + static_cast<Tick>(row) * hour -
                  static_cast<Tick>(climate.site.utc_offset.si()) * ticks_per_second;
  return interval_sun(at, at + hour, observer_at(climate.site));
}

}  // namespace

TEST_CASE("the same seed makes the same year, another seed another") {
  const Climate climate = upland_bog();
  const StationYear a = synthetic_year(climate, 3, 2001), b = synthetic_year(climate, 3, 2001),
                    c = synthetic_year(climate, 4, 2001);
  bool differs = false;
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    REQUIRE(a.hours[row].air_celsius == b.hours[row].air_celsius);
    REQUIRE(a.hours[row].global_horizontal == b.hours[row].global_horizontal);
    REQUIRE(a.hours[row].beam_normal == b.hours[row].beam_normal);
    differs = differs || a.hours[row].global_horizontal != c.hours[row].global_horizontal;
  }
  CHECK(differs);
}

// Over 200 years, 6200 days a month with a lag of about two days: the mean's standard error is 0.004.
TEST_CASE("daily clearness has the climate's monthly means") {
  const Climate climate = upland_bog();
  std::array<double, 12> mean{};
  constexpr int years = 200;
  for (int seed = 1; seed <= years; ++seed) {
    const std::vector<double> days = daily_clearness(climate, static_cast<std::uint64_t>(seed), 2001);
    REQUIRE(days.size() == 365);
    for (std::size_t m = 0; m < 12; ++m) mean[m] += month_mean(days, m) / years;
  }
  for (std::size_t m = 0; m < 12; ++m) {
    CAPTURE(m);
    CHECK(std::abs(mean[m] - climate.clearness[m]) < 0.012);
  }
}

// Every class of matrix bent to its middle and towards its edges. Same tolerance, over a whole year's days.
TEST_CASE("every class of matrix reproduces the wanted mean") {
  for (double wanted = 0.15; wanted < 0.66; wanted += 0.03) {
    CAPTURE(wanted);
    const Climate climate = steady_climate(wanted, 10);
    double mean = 0;
    constexpr int years = 40;
    for (int seed = 1; seed <= years; ++seed) {
      const std::vector<double> days = daily_clearness(climate, static_cast<std::uint64_t>(seed), 2001);
      mean += std::accumulate(days.begin(), days.end(), 0.0) / (365.0 * years);
    }
    CHECK(std::abs(mean - wanted) < 0.012);
  }
}

// The matrices alone give a lag-1 correlation of about 0.3 and next to no bad weeks.
TEST_CASE("dull regimes bring bad weeks") {
  const Climate with = upland_bog();
  Climate without = with;
  without.dull_factor = 1;
  const auto weeks_of_gloom = [](const Climate& climate) {
    int count = 0;
    for (std::uint64_t seed = 1; seed <= 100; ++seed) {
      const std::vector<double> days = daily_clearness(climate, seed, 2001);
      int run = 0;
      for (int day = month_begins[11]; day < month_begins[12]; ++day) {
        run = days[static_cast<std::size_t>(day)] < 0.2 ? run + 1 : 0;
        if (run == 7) ++count;
      }
    }
    return count;
  };
  CHECK(weeks_of_gloom(with) > 2 * weeks_of_gloom(without));
  CHECK(weeks_of_gloom(with) > 10);
}

TEST_CASE("the hours make up the day, and no hour outshines a cloudless one") {
  const Climate climate = upland_bog();
  const StationYear year = synthetic_year(climate, 5, 2001);
  const std::vector<double> days = daily_clearness(climate, 5, 2001);
  double worst = 0;
  for (std::size_t day = 0; day < 365; ++day) {
    double light = 0, outside = 0, clear = 0;
    for (std::size_t h = 0; h < 24; ++h) {
      const StationRecord& record = year.hours[day * 24 + h];
      const IntervalSun sun = sun_of(climate, day * 24 + h);
      const double cloudless = clear_sky(sun.sun.zenith).si() * sun.lit_fraction;
      REQUIRE(record.global_horizontal >= 0);
      REQUIRE(record.global_horizontal <= cloudless * (1 + 1e-9));
      REQUIRE(record.beam_normal * std::max(0.0, cos(sun.sun.zenith)) + record.diffuse_horizontal ==
              doctest::Approx(record.global_horizontal));
      light += record.global_horizontal;
      outside += extraterrestrial_horizontal(sun).si();
      clear += cloudless;
    }
    worst = std::max(worst, std::abs(light / outside - std::min(days[day], clear / outside)));
  }
  CHECK(worst < 0.02);
}

// Temperature has a long memory: over 60 years the standard error of a month's mean is about 0.2 K.
TEST_CASE("air temperature has the climate's means and spread") {
  const Climate climate = upland_bog();
  std::array<double, 12> mean{}, square{};
  constexpr int years = 60;
  for (int seed = 1; seed <= years; ++seed) {
    const StationYear year = synthetic_year(climate, static_cast<std::uint64_t>(seed), 2001);
    for (std::size_t m = 0; m < 12; ++m) {
      const int length = month_begins[m + 1] - month_begins[m];
      for (int day = month_begins[m]; day < month_begins[m + 1]; ++day) {
        double air = 0;
        for (std::size_t h = 0; h < 24; ++h) air += year.hours[static_cast<std::size_t>(day) * 24 + h].air_celsius / 24;
        const double off = air - (climate.air[m] - 273.15);
        mean[m] += off / (length * years);
        square[m] += off * off / (length * years);
      }
    }
  }
  for (std::size_t m = 0; m < 12; ++m) {
    CAPTURE(m);
    CHECK(std::abs(mean[m]) < 0.7);  // straight lines between mid-months are up to 0.3 K off a month's mean
    CHECK(std::sqrt(square[m]) == doctest::Approx(climate.day_spread[m]).epsilon(0.2));
  }
}

TEST_CASE("clear winter days are cold, clear summer days warm, where the climate says so") {
  const Climate climate = upland_bog();
  double winter = 0, summer = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    const StationYear year = synthetic_year(climate, seed, 2001);
    const std::vector<double> days = daily_clearness(climate, seed, 2001);
    const auto covariance = [&](std::size_t month) {
      double sum = 0;
      for (int day = month_begins[month]; day < month_begins[month + 1]; ++day) {
        const auto d = static_cast<std::size_t>(day);
        const double noon = year.hours[d * 24 + 11].air_celsius - (climate.air[month] - 273.15);
        sum += noon * (days[d] - climate.clearness[month]);
      }
      return sum;
    };
    winter += covariance(0);
    summer += covariance(6);
  }
  CHECK(winter < 0);
  CHECK(summer > 0);
}

TEST_CASE("a polar night is dark and nothing is undefined") {
  const StationYear year = synthetic_year(steady_climate(0.4, 80), 1, 2001);
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    REQUIRE(std::isfinite(year.hours[row].global_horizontal));
    REQUIRE(std::isfinite(year.hours[row].air_celsius));
    if (row < 31 * 24) REQUIRE(year.hours[row].global_horizontal == 0);
  }
  CHECK(annual_horizontal_kwh(year) > 300);
}

TEST_CASE("the committed weather of the peat bog is what the generator makes, and says that it is invented") {
  const std::string path = OVERWINTER_SOURCE "/scenarios/peat-bog.epw";
  const StationYear committed = read_epw(path);
  CHECK(committed.place == "Invented upland peat bog");
  std::ifstream file(path);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  CHECK(text.find("seed 28: not a measurement") != std::string::npos);
  const StationYear made = synthetic_year(upland_bog(), 28, 2001);
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    REQUIRE(std::abs(committed.hours[row].air_celsius - made.hours[row].air_celsius) < 0.051);
    REQUIRE(std::abs(committed.hours[row].global_horizontal - made.hours[row].global_horizontal) < 0.51);
    REQUIRE(std::abs(committed.hours[row].beam_normal - made.hours[row].beam_normal) < 0.51);
    REQUIRE(std::abs(committed.hours[row].diffuse_horizontal - made.hours[row].diffuse_horizontal) < 0.51);
  }

  // A dim, mild December with a cold snap.
  double light = 0, outside = 0, air = 0, coldest = 100;
  for (std::size_t row = 334 * 24; row < hours_per_year; ++row) {
    light += committed.hours[row].global_horizontal;
    outside += extraterrestrial_horizontal(sun_of(upland_bog(), row)).si();
    air += committed.hours[row].air_celsius / (31 * 24);
    coldest = std::min(coldest, committed.hours[row].air_celsius);
  }
  CHECK(light / outside == doctest::Approx(0.25).epsilon(0.1));
  CHECK(air == doctest::Approx(2).epsilon(0.3));
  CHECK(coldest < -5);
}

TEST_CASE("a synthetic record: whole calendar years, each of its own, hour by hour on their own days") {
  const Climate climate = upland_bog();
  const MeasuredRecord record = synthetic_record(climate, 7, {{2023, 10, 1}, {2024, 3, 31}});
  CHECK(record.rows.size() == (365 + 366) * 24);
  CHECK(record.begin == days_since_epoch({2023, 1, 1}) * ticks_per_day);
  CHECK(record.seed == 7);
  const auto at = [&](CivilDate day, int h) {
    return record.rows.at(static_cast<std::size_t>((days_since_epoch(day) * ticks_per_day - record.begin) / hour + h));
  };
  // 29 February repeats the 28th, and the sun of 1 March is where the year drawn has it.
  CHECK(at({2024, 2, 29}, 12).global_horizontal == at({2024, 2, 28}, 12).global_horizontal);
  CHECK(at({2024, 3, 1}, 12).global_horizontal != at({2024, 2, 28}, 12).global_horizontal);
  CHECK(at({2023, 6, 1}, 12).global_horizontal != at({2024, 6, 1}, 12).global_horizontal);
  // The same year drawn from another span, and another seed's.
  const MeasuredRecord alone = synthetic_record(climate, 7, {{2024, 1, 1}, {2024, 1, 2}});
  CHECK(alone.rows.at(36).global_horizontal == at({2024, 1, 2}, 12).global_horizontal);
  CHECK(synthetic_record(climate, 8, {{2024, 1, 1}, {2024, 1, 2}}).rows.at(36).global_horizontal !=
        alone.rows.at(36).global_horizontal);
  for (const MeasuredRow& row : record.rows) REQUIRE(std::isfinite(row.air_celsius));
}
