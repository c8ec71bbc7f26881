#include "sim/report/charts.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numeric>
#include <regex>
#include <stdexcept>

#include "tests/sim/report/support/invented_season.hpp"

using namespace overwinter;

namespace {

/// The text of a page without its tags.
std::string words_of(const Html& html) { return std::regex_replace(html.code, std::regex("<[^>]*>"), ""); }

constexpr Tick hour = 3600 * ticks_per_second;

/// What report.js makes of a column.
std::vector<double> unpacked(const Facts& column) {
  std::vector<double> values;
  double sum = 0;
  for (const Facts& step : column.at("steps")) {
    if (!step.is_null()) sum += step.get<double>();
    values.push_back(step.is_null() ? std::nan("") : sum / column.at("scale").get<double>());
  }
  return values;
}

}  // namespace

TEST_CASE("the charts' numbers come back as they went in, to their resolution") {
  ReportSeries s = test::season_series();
  s.utc_offset = hour;
  s.time[5] += ticks_per_second / 4;
  s.voltage[7] = std::nan("");
  s.voltage[8] = std::numeric_limits<double>::infinity();
  const Facts data = Facts::parse(chart_data(Facts::object(), s));

  double milliseconds = data.at("start").get<double>();
  for (std::size_t i = 0; i < s.time.size(); ++i) {
    milliseconds += std::round(data.at("time").at(i).get<double>() * 1000);
    REQUIRE(milliseconds == static_cast<double>((s.time[i] + hour) / 1'000'000));
  }
  const auto compare = [&](const char* name, const std::vector<double>& in, double factor, double resolution) {
    CAPTURE(name);
    const std::vector<double> out = unpacked(data.at("columns").at(name));
    REQUIRE(out.size() == in.size());
    for (std::size_t i = 0; i < in.size(); ++i) {
      if (std::isfinite(in[i])) {
        REQUIRE(std::abs(out[i] - in[i] * factor) <= resolution / 2 * 1.000001);
      } else {
        REQUIRE(std::isnan(out[i]));
      }
    }
  };
  compare("voltage", s.voltage, 1, 1e-4);
  compare("charge", s.charge, 100, 1e-3);
  compare("light", s.light, 1, 0.1);
  compare("cell", s.cell_temperature, 1, 0.01);
  compare("air", s.air, 1, 0.01);
}

TEST_CASE("wakes are counted by days of the site's standard time") {
  ReportSeries s;
  s.utc_offset = 2 * hour;
  const Tick midnight = 20'000 * ticks_per_day - 2 * hour;
  s.time = {midnight, midnight + 3 * ticks_per_day};
  s.wakes = {midnight, midnight + ticks_per_day - 1, midnight + ticks_per_day, midnight + 3 * ticks_per_day};
  const DailyWakes days = daily_wakes(s);
  CHECK(days.first_day == midnight);
  CHECK(days.count == std::vector<int>{2, 1, 1});

  s.time.clear();
  CHECK(daily_wakes(s).count == std::vector<int>{2, 1, 0, 1});
  s.wakes.clear();
  CHECK(daily_wakes(s).count.empty());
}

TEST_CASE("each chart has a title and tells its extremes with their times") {
  ReportSeries s = test::season_series();
  s.utc_offset = hour;
  s.voltage[100] = 2.9;
  s.voltage[200] = 4.21;
  const std::string figures = chart_figures(Facts::object(), s).code;
  CHECK(words_of({figures}).find("lowest 2.900 V at 2024-10-15 17:40, highest 4.210 V at 2024-10-16 10:20, last ") !=
        std::string::npos);
  for (const char* id : {"voltage", "charge", "light", "temperature", "wakes"}) {
    CAPTURE(id);
    CHECK(figures.find("aria-labelledby=\"" + std::string(id) + "-title\" aria-describedby=\"" + id + "-text\"") !=
          std::string::npos);
  }
  CHECK(words_of(marks_described(s)).find("B1 at 2024-12-20 05:00, B2 at 2025-01-12 07:00, B3 at") !=
        std::string::npos);
  s.brownouts.assign(40, test::season_begin);
  CHECK(words_of(marks_described(s)).find("B12 at 2024-10-15 01:00 and 28 more") != std::string::npos);
}

TEST_CASE("extremes between the values drawn are told from the summary, as in the cell's table") {
  ReportSeries s = test::season_series();
  const Facts cell = {{"voltage_min_V", 2.981},
                      {"voltage_min_time", "2025-01-12T05:43:00Z"},
                      {"voltage_max_V", 4.1986},  // without its time
                      {"temperature_min_degC", -0.04},
                      {"temperature_min_time", "2025-01-12T05:43:00Z"}};
  const std::string figures = chart_figures({{"cell", cell}}, s).code;
  CHECK(words_of({figures}).find("Cell voltage: lowest 2.981 V at 2025-01-12 05:43, highest ") != std::string::npos);
  CHECK(figures.find("4.199 V") == std::string::npos);
  CHECK(words_of({figures}).find("Cell temperature: lowest 0.0 \u00B0C at 2025-01-12 05:43") != std::string::npos);
  CHECK(drawing_described(s).code.find("values 10 min apart") != std::string::npos);
  CHECK(drawing_described({}).code.empty());
}

TEST_CASE("what has no values gets no chart") {
  ReportSeries s = test::season_series();
  s.voltage.clear();
  s.air.assign(s.time.size(), std::nan(""));
  s.wakes.clear();
  const std::string figures = chart_figures(Facts::object(), s).code;
  CHECK(figures.find("voltage-plot") == std::string::npos);
  CHECK(figures.find("Cell temperature: lowest") != std::string::npos);
  CHECK(figures.find("Air temperature: lowest") == std::string::npos);
  CHECK(figures.find("wakes-plot") == std::string::npos);
  CHECK(chart_figures({{"service", Facts::object()}}, s).code.find("fewest 0 ") != std::string::npos);
  CHECK(chart_figures(Facts::object(), {}).code.empty());
  CHECK(marks_described({}).code.empty());
  CHECK_NOTHROW(Facts::parse(chart_data(Facts(), {})));

  s.charge.pop_back();
  CHECK_THROWS_AS(chart_data(Facts::object(), s), std::invalid_argument);
}
