#include "sim/weather/epw.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include "models/light/sun.hpp"
#include "sim/input_error.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

StationYear made_up_year() {
  StationYear year;
  year.place = "Invented moor";
  year.site.latitude = 56 * units::degree;
  year.site.longitude = -5 * units::degree;
  year.site.elevation = Length{400};
  year.site.utc_offset = Duration{-3600};
  year.source_years = {2001};
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    const double light = row % 24 > 8 && row % 24 < 16 ? static_cast<double>(row % 700) : 0;
    year.hours.push_back({static_cast<double>(row % 300) / 10 - 10, light, light, light / 2});
  }
  return year;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream in(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

/// Line of a row in the file, from 0; row 0 is 1 January 00:00-01:00.
constexpr std::size_t line_of(std::size_t row) { return 8 + row; }

std::vector<std::string> made_up_lines() {
  return lines_of(epw_text(made_up_year(), "INVENTED", "a comment", "another"));
}

void set_column(std::string& line, std::size_t column, const std::string& value) {
  std::size_t begin = 0;
  for (std::size_t i = 1; i < column; ++i) begin = line.find(',', begin) + 1;
  line.replace(begin, line.find(',', begin) - begin, value);
}

/// Reads the lines as a file, which is gone afterwards.
StationYear read_lines(const std::vector<std::string>& lines, const std::string& line_end = "\n",
                       const std::string& before = "") {
  const test::Scratch scratch;
  std::string text = before;
  for (const std::string& line : lines) text += line + line_end;
  return read_epw(scratch.write("made-up.epw", text));
}

/// 24 rows of 29 February behind the 28th.
std::vector<std::string> leap_lines() {
  std::vector<std::string> lines = made_up_lines();
  std::vector<std::string> leap_day;
  for (std::size_t h = 0; h < 24; ++h) {
    std::string line = lines[line_of(58 * 24 + h)];
    set_column(line, 3, "29");
    set_column(line, 7, "33.3");
    leap_day.push_back(line);
  }
  lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(line_of(59 * 24)), leap_day.begin(), leap_day.end());
  return lines;
}

}  // namespace

TEST_CASE("what is written is read back") {
  const StationYear written = made_up_year();
  const StationYear year = read_lines(made_up_lines());
  CHECK(year.place == written.place);
  CHECK(year.site.latitude / units::degree == doctest::Approx(56));
  CHECK(year.site.longitude / units::degree == doctest::Approx(-5));
  CHECK(year.site.elevation.si() == 400);
  CHECK(year.site.utc_offset.si() == -3600);
  CHECK(year.source_years == std::vector<int>{2001});
  CHECK(year.warnings.empty());
  REQUIRE(year.hours.size() == hours_per_year);
  for (std::size_t row = 0; row < hours_per_year; ++row) {
    REQUIRE(year.hours[row].air_celsius == doctest::Approx(written.hours[row].air_celsius));
    REQUIRE(year.hours[row].global_horizontal == written.hours[row].global_horizontal);
    REQUIRE(year.hours[row].beam_normal == written.hours[row].beam_normal);
    REQUIRE(std::abs(year.hours[row].diffuse_horizontal - written.hours[row].diffuse_horizontal) <= 0.5);
  }
}

TEST_CASE("line ends of other systems, a byte order mark, blanks and small letters are read alike") {
  std::vector<std::string> lines = made_up_lines();
  lines[0].replace(0, 8, "Location");
  set_column(lines[line_of(5)], 7, " +7.5 ");
  const StationYear year = read_lines(lines, "\r\n", "\xEF\xBB\xBF");
  CHECK(year.hours.size() == hours_per_year);
  CHECK(year.hours[5].air_celsius == 7.5);
}

TEST_CASE("blank lines at the end do not count as rows") {
  std::vector<std::string> lines = made_up_lines();
  lines.push_back("");
  lines.push_back("  ");
  CHECK(read_lines(lines).hours.size() == hours_per_year);
}

TEST_CASE("29 February is left out with a warning") {
  const StationYear year = read_lines(leap_lines());
  CHECK(year.hours.size() == hours_per_year);
  CHECK(year.warnings ==
        std::vector<std::string>{"the rows of 29 February are left out: 28 February stands for both days"});
  for (const StationRecord& record : year.hours) CHECK(record.air_celsius < 33);
}

TEST_CASE("source years are listed once, in order") {
  std::vector<std::string> lines = made_up_lines();
  for (std::size_t row = 0; row < 744; ++row) set_column(lines[line_of(row)], 1, "2017");
  for (std::size_t row = 744; row < 800; ++row) set_column(lines[line_of(row)], 1, "1995");
  CHECK(read_lines(lines).source_years == std::vector<int>{1995, 2001, 2017});
}

TEST_CASE("missing beam and diffuse are marked, missing global is closed from them") {
  std::vector<std::string> lines = made_up_lines();
  const std::size_t row = 100 * 24 + 12;  // 11 April 12:00-13:00, standard time UTC-1
  set_column(lines[line_of(row)], 15, "9999");
  set_column(lines[line_of(row)], 16, "9999");
  set_column(lines[line_of(row + 1)], 14, "9999");
  set_column(lines[line_of(row + 1)], 15, "600");
  set_column(lines[line_of(row + 1)], 16, "120");
  const StationYear year = read_lines(lines);
  CHECK(std::isnan(year.hours[row].beam_normal));
  CHECK(std::isnan(year.hours[row].diffuse_horizontal));
  CHECK(year.hours[row].global_horizontal == static_cast<double>(row % 700));

  const Tick middle = days_since_epoch({2001, 4, 11}) * ticks_per_day + (13 * 3600 + 1800 + 3600) * ticks_per_second;
  const double height = cos(sun_position(middle, observer_at(year.site)).zenith);
  CHECK(year.hours[row + 1].global_horizontal == doctest::Approx(600 * height + 120));
}

TEST_CASE("missing beam and diffuse are written as missing") {
  StationYear year = made_up_year();
  year.hours[12].beam_normal = none;
  year.hours[12].diffuse_horizontal = none;
  const StationYear again = read_lines(lines_of(epw_text(year, "INVENTED", "", "")));
  CHECK(std::isnan(again.hours[12].beam_normal));
  CHECK(std::isnan(again.hours[12].diffuse_horizontal));
}

TEST_CASE("limits belong to the range") {
  std::vector<std::string> lines = made_up_lines();
  set_column(lines[line_of(1)], 7, "-70");
  set_column(lines[line_of(2)], 7, "70");
  set_column(lines[line_of(3)], 14, "1500");
  CHECK(read_lines(lines).hours[3].global_horizontal == 1500);
}

TEST_CASE("faulty files are refused") {
  using Edit = std::function<void(std::vector<std::string>&)>;
  const auto refused = [](const Edit& edit) {
    std::vector<std::string> lines = made_up_lines();
    edit(lines);
    CHECK_THROWS_AS(read_lines(lines), InputError);
  };
  const auto column = [&](std::size_t number, const std::string& value) {
    refused([&](std::vector<std::string>& lines) { set_column(lines[line_of(4000)], number, value); });
  };
  for (const char* air : {"", "x", "nan", "inf", "1e999", "12,5", "99.9", "71", "-70.1", "0x10", "--3", "+-3"})
    column(7, air);
  for (const std::size_t light : {14U, 15U, 16U}) {
    for (const char* value : {"", "-1", "1501", "many", "nan"}) column(light, value);
  }
  for (const std::size_t stamp : {1U, 2U, 3U, 4U}) {
    for (const char* value : {"", "0", "-1", "99999", "1.5", "one"}) column(stamp, value);
  }
  refused([](std::vector<std::string>& lines) { lines.clear(); });
  refused([](std::vector<std::string>& lines) { lines.resize(1); });
  refused([](std::vector<std::string>& lines) { lines.resize(8); });
  refused([](std::vector<std::string>& lines) { lines.resize(5000); });
  refused([](std::vector<std::string>& lines) { lines.pop_back(); });
  refused([](std::vector<std::string>& lines) { lines.push_back(lines.back()); });
  refused([](std::vector<std::string>& lines) { lines.erase(lines.begin() + 3000); });
  refused([](std::vector<std::string>& lines) { std::swap(lines[3000], lines[3001]); });
  refused([](std::vector<std::string>& lines) { lines.back().resize(60); });
  refused([](std::vector<std::string>& lines) { lines[0] = "PLACE,here"; });
  refused([](std::vector<std::string>& lines) { lines[0] = "LOCATION,here"; });
  for (std::size_t header = 0; header < 8; ++header) {
    refused([&](std::vector<std::string>& lines) { lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(header)); });
  }
  for (const std::size_t number : {7U, 8U, 9U, 10U}) {
    for (const char* value : {"", "north", "9001", "-2000"}) {
      refused([&](std::vector<std::string>& lines) { set_column(lines[0], number, value); });
    }
  }
  refused([](std::vector<std::string>& lines) { set_column(lines[7], 2, "2"); });
  refused([](std::vector<std::string>& lines) { set_column(lines[7], 3, "4"); });
  refused([](std::vector<std::string>& lines) {
    for (const std::size_t light : {14U, 15U}) set_column(lines[line_of(4000)], light, "9999");
  });
  refused([](std::vector<std::string>& lines) {  // half of 29 February
    lines = leap_lines();
    lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(line_of(59 * 24)),
                lines.begin() + static_cast<std::ptrdiff_t>(line_of(59 * 24 + 12)));
  });
}

TEST_CASE("a folder or a file that is not there is refused") {
  CHECK_THROWS_AS(read_epw(test::Scratch().path("")), InputError);
  CHECK_THROWS_AS(read_epw("no-such-file.epw"), InputError);
}

TEST_CASE("the first twenty faults are reported in one go") {
  std::vector<std::string> lines = made_up_lines();
  for (std::size_t row = 0; row < 15; ++row) set_column(lines[line_of(row)], 7, "cold");
  const auto faults = [](const std::vector<std::string>& of) {
    try {
      read_lines(of);
    } catch (const InputError& error) {
      return error.faults();
    }
    return std::vector<Fault>{};
  };
  const std::vector<Fault> found = faults(lines);
  CHECK(found.size() == 15);
  CHECK(found.at(14).place.line == 8 + 15);
  for (std::size_t row = 0; row < 1000; ++row) set_column(lines[line_of(row)], 7, "cold");
  CHECK(faults(lines).size() == 20);
}
