// What a person reads about a faulty weather file.
#include "sim/weather/epw.hpp"

#include <doctest/doctest.h>

#include <cstddef>
#include <functional>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "sim/input_error.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

using Lines = std::vector<std::string>;

Lines sound_file() {
  StationYear year;
  year.place = "Invented moor";
  year.site.elevation = Length{400};
  year.source_years = {2001};
  year.hours.assign(hours_per_year, {5, 0, 0, 0});
  std::istringstream in(epw_text(year, "INVENTED", "a comment", "another"));
  Lines lines;
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

void set_column(std::string& line, std::size_t column, const std::string& value) {
  std::size_t begin = 0;
  for (std::size_t i = 1; i < column; ++i) begin = line.find(',', begin) + 1;
  line.replace(begin, line.find(',', begin) - begin, value);
}

std::string message_about(const std::string& path) {
  try {
    read_epw(path);
  } catch (const InputError& error) {
    return error.what();
  }
  return "no fault";
}

std::string message_after(const std::function<void(Lines&)>& edit, const std::string& line_end = "\n") {
  const test::WorkingFolder here;
  Lines lines = sound_file();
  edit(lines);
  std::string text;
  for (const std::string& line : lines) text += line + line_end;
  here.write("moor.epw", text);
  return message_about("moor.epw");
}

std::string message_for_column(std::size_t column, const std::string& value) {
  return message_after([&](Lines& lines) { set_column(lines[100], column, value); });
}

}  // namespace

TEST_CASE("a sound file gives no message") {
  CHECK(message_after([](Lines&) {}) == "no fault");
}

TEST_CASE("numbers that are none, out of range or missing") {
  CHECK("\n" + message_for_column(7, "4.5x") == R"(
moor.epw:101:17: the dry-bulb temperature '4.5x' is not a number
    2001,1,4,21,0,?,4.5x,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,99...
                    ^^^^
  try: write -70...70 degC in column 7)");
  CHECK("\n" + message_for_column(7, "99.9") == R"(
moor.epw:101:17: the dry-bulb temperature is missing (99.9)
    2001,1,4,21,0,?,99.9,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,99...
                    ^^^^
  try: fill the gap from the hours around it, or give another file)");
  CHECK("\n" + message_for_column(7, "-88.1") == R"(
moor.epw:101:17: the dry-bulb temperature -88.1 degC is out of range
    2001,1,4,21,0,?,-88.1,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,9...
                    ^^^^^
  try: write -70...70 degC in column 7)");
  CHECK("\n" + message_for_column(14, "-12") == R"(
moor.epw:101:52: the global horizontal radiation -12 Wh/m2 is out of range
    ...,0,?,5.0,99.9,999,999999,9999,9999,9999,-12,0,0,999999,999999,999999,9999,999,999,99,99,9999,99999,9...
                                               ^^^
  try: write 0...1500 Wh/m2 in column 14, or 9999 where it is missing)");
  CHECK("\n" + message_for_column(16, "n/a") == R"(
moor.epw:101:56: the diffuse horizontal radiation 'n/a' is not a number
    ...,5.0,99.9,999,999999,9999,9999,9999,0,0,n/a,999999,999999,999999,9999,999,999,99,99,9999,99999,9,999...
                                               ^^^
  try: write 0...1500 Wh/m2 in column 16, or 9999 where it is missing)");
  CHECK("\n" + message_for_column(4, "25") == R"(
moor.epw:101:10: the hour '25' is not a whole number from 1 to 24
    2001,1,4,25,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,999...
             ^^
  try: write the hour in column 4)");
  CHECK("\n" + message_after([](Lines& lines) {
          for (const std::size_t column : {14U, 15U, 16U}) set_column(lines[100], column, "9999");
        }) ==
        R"(
moor.epw:101:52: the global horizontal radiation is missing and cannot be worked out
    ...,0,?,5.0,99.9,999,999999,9999,9999,9999,9999,9999,9999,999999,999999,999999,9999,999,999,99,99,9999,...
                                               ^^^^
  try: give it in column 14, or both direct normal (15) and diffuse horizontal (16))");
}

TEST_CASE("rows missing, swapped, cut off or too many") {
  CHECK("\n" + message_after([](Lines& lines) { lines.erase(lines.begin() + 100); }) == R"(
moor.epw:101:6: this row is 4 January hour 22, 4 January hour 21 was expected
    2001,1,4,22,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,999...
         ^^^^^^
  try: put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled

moor.epw:8767:1: the file holds 8759 hourly rows, its year has 8760
    2001,12,31,24,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,9...
    ^
  try: fetch the file again: it may have been cut off)");
  CHECK("\n" + message_after([](Lines& lines) { std::swap(lines[100], lines[101]); }, "\r\n") == R"(
moor.epw:101:6: this row is 4 January hour 22, 4 January hour 21 was expected
    2001,1,4,22,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,999...
         ^^^^^^
  try: put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled

moor.epw:102:6: this row is 4 January hour 21, 4 January hour 23 was expected
    2001,1,4,21,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,999...
         ^^^^^^
  try: put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled

moor.epw:103:6: this row is 4 January hour 23, 4 January hour 22 was expected
    2001,1,4,23,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,999...
         ^^^^^^
  try: put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled)");
  CHECK("\n" + message_after([](Lines& lines) {
          lines.resize(5000);
          lines.back().resize(70);
        }) ==
        R"(
moor.epw:5000:71: the row has 18 columns, the first row has 35
    2001,7,27,24,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,99999
                                                                          ^
  try: fetch the file again: the row may have been cut off

moor.epw:5000:1: the file holds 4992 hourly rows, its year has 8760
    2001,7,27,24,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,99999
    ^
  try: fetch the file again: it may have been cut off)");
  CHECK("\n" + message_after([](Lines& lines) { lines.resize(8); }) == R"(
moor.epw:8:1: the file holds 0 hourly rows, its year has 8760
    DATA PERIODS,1,1,Data,Monday,1/1,12/31
    ^
  try: fetch the file again: it may have been cut off)");
  CHECK("\n" + message_after([](Lines& lines) { lines.push_back(lines.back()); }) == R"(
moor.epw:8769:6: this row is 31 December hour 24, 1 January hour 1 was expected
    2001,12,31,24,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,9...
         ^^^^^^^^
  try: put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled

moor.epw:8769:1: the file holds 8761 hourly rows, its year has 8760
    2001,12,31,24,0,?,5.0,99.9,999,999999,9999,9999,9999,0,0,0,999999,999999,999999,9999,999,999,99,99,9...
    ^
  try: give a file of one year)");
}

TEST_CASE("a header that is short or wrong") {
  CHECK("\n" + message_after([](Lines& lines) { lines.erase(lines.begin() + 3); }) == R"(
moor.epw:4:1: the header line GROUND TEMPERATURES is missing
    HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
    ^
  try: begin line 4 of the file with GROUND TEMPERATURES)");
  CHECK("\n" + message_after([](Lines& lines) { lines.resize(3); }) == R"(
moor.epw:3:1: the file ends before its header line GROUND TEMPERATURES
    TYPICAL/EXTREME PERIODS,0
    ^
  try: fetch the file again: it may have been cut off)");
  CHECK("\n" + message_after([](Lines& lines) {
          lines = {"day,temperature", "1,3.5"};
        }) ==
        R"(
moor.epw:1:1: the file does not begin with a LOCATION line
    day,temperature
    ^
  try: give a weather file in the EPW layout, or say in the scenario what the columns of a CSV file hold (`overwinter explain weather`))");
  CHECK("\n" + message_after([](Lines& lines) {
          lines[0] = "LOCATION,H\xC3\xB8yde,-,-,INVENTED,999999,north,-200.5,0.0,400.0";
        }) ==
        R"(
moor.epw:1:36: the latitude 'north' is not a number
    LOCATION,Høyde,-,-,INVENTED,999999,north,-200.5,0.0,400.0
                                       ^^^^^
  try: write -90...90 in field 7 of LOCATION

moor.epw:1:42: the longitude -200.5 is out of range
    LOCATION,Høyde,-,-,INVENTED,999999,north,-200.5,0.0,400.0
                                             ^^^^^^
  try: write -180...180 in field 8 of LOCATION)");
  CHECK("\n" + message_after([](Lines& lines) { lines[0] = "LOCATION,Here"; }) == R"(
moor.epw:1:1: the LOCATION line has 2 fields
    LOCATION,Here
    ^
  try: write 10: LOCATION, city, region, country, source, station number, latitude, longitude, hours from UTC, height in metres)");
  CHECK("\n" + message_after([](Lines& lines) { set_column(lines[7], 3, "4"); }) == R"(
moor.epw:8:16: the number of rows per hour is '4', not 1
    DATA PERIODS,1,4,Data,Monday,1/1,12/31
                   ^
  try: give a file with hourly rows)");
}

TEST_CASE("a file that is not there, empty or a folder") {
  const test::WorkingFolder here;
  here.write("moor.epw", "x");
  here.write("empty.epw", "");
  CHECK("\n" + message_about("mour.epw") == R"(
mour.epw: the weather file does not exist
  try: moor.epw)");
  CHECK("\n" + message_about("empty.epw") == R"(
empty.epw: the weather file is empty
  try: give a weather file in the EPW layout)");
  CHECK(message_about(".") == ".: the weather file is a folder\n  try: give a weather file in the EPW layout");
}
