#include "sim/weather/epw.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <limits>
#include <optional>
#include <set>
#include <string_view>
#include <utility>

#include "models/light/sun.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/files.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/sha256.hpp"
#include "sim/text.hpp"
#include "sim/weather/closure.hpp"

namespace overwinter {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t most_faults = 20;
constexpr std::array<std::string_view, 8> header_keywords{"LOCATION",
                                                          "DESIGN CONDITIONS",
                                                          "TYPICAL/EXTREME PERIODS",
                                                          "GROUND TEMPERATURES",
                                                          "HOLIDAYS/DAYLIGHT SAVING",
                                                          "COMMENTS 1",
                                                          "COMMENTS 2",
                                                          "DATA PERIODS"};
constexpr std::array<std::string_view, 12> month_names{"January",   "February", "March",    "April",
                                                       "May",       "June",     "July",     "August",
                                                       "September", "October",  "November", "December"};
constexpr std::array<int, 12> month_days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

std::string_view trim(std::string_view text) {
  const auto space = [](char c) { return c == ' ' || c == '\t'; };
  while (!text.empty() && space(text.front())) text.remove_prefix(1);
  while (!text.empty() && space(text.back())) text.remove_suffix(1);
  return text;
}

// In whatever case the text is; the keyword is in capitals.
bool starts_with(std::string_view text, std::string_view keyword) {
  return text.size() >= keyword.size() && std::equal(keyword.begin(), keyword.end(), text.begin(), [](char k, char t) {
           return k == static_cast<char>(std::toupper(static_cast<unsigned char>(t)));
         });
}

std::optional<double> number(std::string_view text) {
  text = trim(text);
  if (text.size() > 1 && text.front() == '+' && text[1] != '-') text.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<int> whole(std::string_view text) {
  text = trim(text);
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

// The comma-separated fields of a line; `kept` may be fewer than `count`.
struct Fields {
  std::string_view line;
  std::array<std::string_view, 16> kept;
  std::size_t count = 0;

  explicit Fields(std::string_view text) : line(text) {
    for (std::size_t begin = 0; begin <= text.size();) {
      const std::size_t comma = std::min(text.find(',', begin), text.size());
      if (count < kept.size()) kept[count] = text.substr(begin, comma - begin);
      ++count;
      begin = comma + 1;
    }
  }
  /// By the layout's 1-based column number, which must be at most 16 and at most count.
  std::string_view operator[](std::size_t column) const { return kept[column - 1]; }
  /// Two columns and what lies between them.
  std::string_view from(std::size_t first, std::size_t last) const {
    const std::string_view end = (*this)[last];
    return {(*this)[first].data(), static_cast<std::size_t>(end.data() + end.size() - (*this)[first].data())};
  }
};

class Reader {
 public:
  explicit Reader(const std::string& path) { year_.path = path; }

  StationYear read() {
    load();
    if (header()) rows();
    if (full()) faults_.back().message += " (reading stopped here)";
    if (!faults_.empty()) throw InputError(std::move(faults_));
    look_at_clock();
    year_.sha256 = sha256(text_);
    return std::move(year_);
  }

 private:
  void load() {
    std::string why;
    std::optional<std::string> text = read_file(year_.path, why);
    if (!text) {
      const std::string near = nearest_file(year_.path);
      fault_at_line(0, "the weather file " + why, near.empty() ? "give a weather file in the EPW layout" : near);
    } else if (text->empty()) {
      fault_at_line(0, "the weather file is empty", "give a weather file in the EPW layout");
    } else {
      text_ = *std::move(text);
    }
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (starts_with(text_, byte_order_mark)) position_ = byte_order_mark.size();
  }

  bool full() const { return faults_.size() >= most_faults; }

  void fault_at_line(int line, std::string message, std::string suggestion, std::string_view source = {}) {
    if (full()) return;
    Fault fault;
    fault.place = {year_.path, line, line > 0 ? 1 : 0};
    fault.message = std::move(message);
    fault.suggestion = std::move(suggestion);
    fault.source_line = source;
    faults_.push_back(std::move(fault));
  }

  void fault_at(std::string_view field, std::string message, std::string suggestion) {
    if (full()) return;
    const std::string_view shown = trim(field).empty() ? field : trim(field);
    const auto offset = static_cast<std::size_t>(shown.data() - line_.data());
    fault_at_line(line_number_, std::move(message), std::move(suggestion), line_);
    faults_.back().place.column = characters(line_.substr(0, offset)) + 1;
    faults_.back().width = std::max(1, characters(shown));
  }

  // Moves to the next line; false at the end of the file.
  bool next_line() {
    if (position_ >= text_.size()) return false;
    const std::string_view text = text_;
    const std::size_t end = std::min(text.find('\n', position_), text.size());
    line_ = text.substr(position_, end - position_);
    if (!line_.empty() && line_.back() == '\r') line_.remove_suffix(1);
    position_ = end + 1;
    ++line_number_;
    return true;
  }

  // Reads the header; false where the rows after it cannot be found.
  bool header() {
    if (!faults_.empty()) return false;
    bool pending = next_line();
    for (std::size_t i = 0; i < header_keywords.size(); ++i) {
      const std::string_view keyword = header_keywords[i];
      if (pending && starts_with(line_, keyword)) {
        if (i == 0) location();
        if (i + 1 == header_keywords.size()) {
          data_periods();
          return true;
        }
        pending = next_line();
        continue;
      }
      if (i == 0) {
        fault_at_line(
            line_number_, "the file does not begin with a LOCATION line",
            "give a weather file in the EPW layout, or say in the scenario what the columns of a CSV file hold "
            "(`overwinter explain weather`)",
            line_);
        return false;
      }
      if (!pending) {
        fault_at_line(line_number_, fmt::format("the file ends before its header line {}", keyword),
                      "fetch the file again: it may have been cut off", line_);
        return false;
      }
      fault_at_line(line_number_, fmt::format("the header line {} is missing", keyword),
                    fmt::format("begin line {} of the file with {}", i + 1, keyword), line_);
      const bool other_header = std::any_of(header_keywords.begin(), header_keywords.end(),
                                            [&](std::string_view other) { return starts_with(line_, other); });
      const bool data = !line_.empty() && std::isdigit(static_cast<unsigned char>(line_.front()));
      if (data) return false;
      if (!other_header) pending = next_line();
    }
    return false;
  }

  std::optional<double> header_number(const Fields& fields, std::size_t column, std::string_view name, double least,
                                      double most) {
    const std::optional<double> value = number(fields[column]);
    const std::string suggestion = fmt::format("write {:g}...{:g} in field {} of LOCATION", least, most, column);
    if (!value) {
      fault_at(fields[column], fmt::format("the {} {} is not a number", name, in_quotes(trim(fields[column]))),
               suggestion);
    } else if (*value < least || *value > most) {
      fault_at(fields[column], fmt::format("the {} {} is out of range", name, trim(fields[column])), suggestion);
    }
    return value;
  }

  void location() {
    const Fields fields(line_);
    if (fields.count < 10) {
      fault_at_line(line_number_, fmt::format("the LOCATION line has {} fields", fields.count),
                    "write 10: LOCATION, city, region, country, source, station number, latitude, longitude, "
                    "hours from UTC, height in metres",
                    line_);
      return;
    }
    year_.place = trim(fields[2]);
    const auto latitude = header_number(fields, 7, "latitude", -90, 90);
    const auto longitude = header_number(fields, 8, "longitude", -180, 180);
    const auto offset = header_number(fields, 9, "offset from UTC", -12, 14);
    const auto elevation = header_number(fields, 10, "height", -1000, 9000);
    if (!latitude || !longitude || !offset || !elevation) return;
    year_.site.latitude = *latitude * units::degree;
    year_.site.longitude = *longitude * units::degree;
    year_.site.utc_offset = *offset * units::hour;
    year_.site.elevation = *elevation * units::metre;
  }

  void data_periods() {
    const Fields fields(line_);
    const auto require_one = [&](std::size_t column, std::string_view what, std::string_view suggestion) {
      if (fields.count < column) {
        fault_at_line(line_number_, fmt::format("the DATA PERIODS line does not give the {}", what),
                      std::string(suggestion), line_);
      } else if (whole(fields[column]) != 1) {
        fault_at(fields[column], fmt::format("the {} is {}, not 1", what, in_quotes(trim(fields[column]))),
                 std::string(suggestion));
      }
    };
    require_one(2, "number of data periods", "give a file with one unbroken year");
    require_one(3, "number of rows per hour", "give a file with hourly rows");
  }

  struct Stamp {
    int month = 1, day = 1, hour = 1;
    bool operator==(const Stamp& other) const { return month == other.month && day == other.day && hour == other.hour; }
    std::string text() const {
      return fmt::format("{} {} hour {}", day, month_names[static_cast<std::size_t>(month - 1)], hour);
    }
    bool leap_day() const { return month == 2 && day == 29; }
  };

  // The stamp of the row after this one; after 28 February comes 1 March unless `leap`.
  static Stamp after(Stamp s, bool leap) {
    if (++s.hour <= 24) return s;
    s.hour = 1;
    const int last = month_days[static_cast<std::size_t>(s.month - 1)] + (leap && s.month == 2 ? 1 : 0);
    if (++s.day <= last) return s;
    s.day = 1;
    s.month = s.month % 12 + 1;
    return s;
  }

  void rows() {
    year_.hours.reserve(hours_per_year);
    std::set<int> years;
    std::size_t columns = 0, count = 0;
    bool leap = false;
    int last_line = line_number_;
    std::string_view last_text = line_;
    Stamp expected;
    while (next_line() && !full()) {
      if (trim(line_).empty()) continue;
      ++count;
      last_line = line_number_;
      last_text = line_;
      const Fields fields(line_);
      if (columns == 0 && fields.count >= 16) columns = fields.count;
      if (fields.count < 16 || fields.count != columns) {
        fault_at(line_.substr(line_.size()),
                 fields.count < 16 ? fmt::format("the row has {} columns, at least 16 are needed", fields.count)
                                   : fmt::format("the row has {} columns, the first row has {}", fields.count, columns),
                 fields.count > columns && columns > 0 ? "remove what is too much"
                                                       : "fetch the file again: the row may have been cut off");
        expected = after(expected, leap);
        continue;
      }
      const std::optional<Stamp> found = stamp(fields, years);
      if (found) {
        if (*found == Stamp{2, 29, 1} && expected == Stamp{3, 1, 1}) {
          leap = true;
          expected = *found;
        }
        if (!(*found == expected)) {
          fault_at(fields.from(2, 4), fmt::format("this row is {}, {} was expected", found->text(), expected.text()),
                   "put the rows in order, hour by hour from 1 January hour 1: one may be missing or doubled");
          expected = *found;
        }
      }
      const int stated_year = found ? *whole(fields[1]) : 2001;
      const StationRecord row = record(fields, expected, stated_year);
      if (!expected.leap_day()) year_.hours.push_back(row);
      expected = after(expected, leap);
    }
    if (full()) return;
    const std::size_t wanted = leap ? hours_per_year + 24 : hours_per_year;
    if (count != wanted) {
      fault_at_line(last_line, fmt::format("the file holds {} hourly rows, its year has {}", count, wanted),
                    count < wanted ? "fetch the file again: it may have been cut off" : "give a file of one year",
                    last_text);
    }
    if (leap) year_.warnings.push_back("the rows of 29 February are left out: 28 February stands for both days");
    year_.source_years.assign(years.begin(), years.end());
  }

  std::optional<Stamp> stamp(const Fields& fields, std::set<int>& years) {
    constexpr std::array<std::string_view, 4> names{"year", "month", "day", "hour"};
    constexpr std::array<int, 4> least{1800, 1, 1, 1}, most{2200, 12, 31, 24};
    std::array<int, 4> values{};
    bool good = true;
    for (std::size_t i = 0; i < 4; ++i) {
      const std::optional<int> value = whole(fields[i + 1]);
      if (value && *value >= least[i] && *value <= most[i]) {
        values[i] = *value;
        continue;
      }
      good = false;
      fault_at(fields[i + 1],
               fmt::format("the {} {} is not a whole number from {} to {}", names[i], in_quotes(trim(fields[i + 1])),
                           least[i], most[i]),
               fmt::format("write the {} in column {}", names[i], i + 1));
    }
    if (!good) return std::nullopt;
    years.insert(values[0]);
    return Stamp{values[1], values[2], values[3]};
  }

  // A radiation column: not-a-number where marked missing or at fault.
  double radiation(const Fields& fields, std::size_t column, std::string_view name, bool& fault) {
    const std::optional<double> value = number(fields[column]);
    const std::string suggestion =
        fmt::format("write 0...1500 Wh/m2 in column {}, or 9999 where it is missing", column);
    if (!value) {
      fault = true;
      fault_at(fields[column], fmt::format("the {} {} is not a number", name, in_quotes(trim(fields[column]))),
               suggestion);
      return missing;
    }
    if (*value >= 9999) return missing;
    if (*value < 0 || *value > 1500) {
      fault = true;
      fault_at(fields[column], fmt::format("the {} {} Wh/m2 is out of range", name, trim(fields[column])), suggestion);
      return missing;
    }
    return *value;
  }

  StationRecord record(const Fields& fields, Stamp stamp, int stated_year) {
    StationRecord row;
    const std::optional<double> air = number(fields[7]);
    if (!air) {
      fault_at(fields[7], fmt::format("the dry-bulb temperature {} is not a number", in_quotes(trim(fields[7]))),
               "write -70...70 degC in column 7");
    } else if (*air == 99.9) {
      fault_at(fields[7], "the dry-bulb temperature is missing (99.9)",
               "fill the gap from the hours around it, or give another file");
    } else if (*air < -70 || *air > 70) {
      fault_at(fields[7], fmt::format("the dry-bulb temperature {} degC is out of range", trim(fields[7])),
               "write -70...70 degC in column 7");
    } else {
      row.air_celsius = *air;
    }

    bool fault = false;
    row.global_horizontal = radiation(fields, 14, "global horizontal radiation", fault);
    row.beam_normal = radiation(fields, 15, "direct normal radiation", fault);
    row.diffuse_horizontal = radiation(fields, 16, "diffuse horizontal radiation", fault);
    const bool no_beam = std::isnan(row.beam_normal), no_diffuse = std::isnan(row.diffuse_horizontal);
    const Tick hour = 3600 * ticks_per_second;
    const Tick begin = days_since_epoch({stated_year, stamp.month, stamp.day}) * ticks_per_day +
                       (stamp.hour - 1) * hour - std::llround(year_.site.utc_offset.si()) * ticks_per_second;
    if (!fault && !no_beam && !no_diffuse && !std::isnan(row.global_horizontal)) {
      all_light_.push_back({begin, begin + hour, row.global_horizontal, row.beam_normal, row.diffuse_horizontal});
    }
    if (fault || !std::isnan(row.global_horizontal)) return row;
    if (no_beam || no_diffuse) {
      fault_at(fields[14], "the global horizontal radiation is missing and cannot be worked out",
               "give it in column 14, or both direct normal (15) and diffuse horizontal (16)");
      return row;
    }
    const IntervalSun sun = interval_sun(begin, begin + hour, observer_at(year_.site));
    const double height = sun.lit_fraction > 0 ? cos(sun.sun.zenith) : 0.0;
    row.global_horizontal = row.beam_normal * height + row.diffuse_horizontal;
    return row;
  }

  /// Whether the three columns of radiation close with the header's time zone.
  void look_at_clock() {
    const std::optional<Closure> other = better_clock(all_light_, observer_at(year_.site));
    if (!other) return;
    const double stated = year_.site.utc_offset / units::hour;
    const double better = std::remainder(stated + other->later / units::hour, 24);
    year_.findings.push_back(
        {"radiation-columns-do-not-close",
         {"weather"},
         fmt::format(
             "{}: global radiation is not the sum of diffuse and of direct times the sine of the sun's height "
             "({:.2g} W/m2 rms) at the header's time zone of {:g} h; at {:g} h it is, within {:.2g} W/m2: every "
             "hour of the file is taken {} too {}, so that panels facing east or west get the wrong light",
             std::filesystem::path(year_.path).filename().string(), other->rms, stated, better, other->better_rms,
             duration_text(std::abs(other->later.si())), other->later < Duration{} ? "early" : "late"),
         fmt::format(
             "{:g} in field 9 of LOCATION; or, where that is right, the longitude in field 8 or the rows' hours "
             "corrected",
             better)});
  }

  StationYear year_;
  std::vector<RadiationRow> all_light_;  ///< rows that have all three columns
  std::string text_;
  std::vector<Fault> faults_;
  std::size_t position_ = 0;
  std::string_view line_;
  int line_number_ = 0;
};

}  // namespace

bool is_epw(std::string_view text) {
  constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
  if (starts_with(text, byte_order_mark)) text.remove_prefix(byte_order_mark.size());
  return starts_with(text, "LOCATION,");
}

StationYear read_epw(const std::string& path) { return Reader(path).read(); }

std::string epw_text(const StationYear& year, std::string_view source, std::string_view comment1,
                     std::string_view comment2) {
  const int calendar_year = year.source_years.front();
  std::string text = fmt::format("LOCATION,{},-,-,{},999999,{:.4f},{:.4f},{:.2f},{:.1f}\n", year.place, source,
                                 year.site.latitude / units::degree, year.site.longitude / units::degree,
                                 year.site.utc_offset / units::hour, year.site.elevation / units::metre);
  text += "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n";
  text += "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\n";
  text += fmt::format("COMMENTS 1,\"{}\"\nCOMMENTS 2,\"{}\"\n", comment1, comment2);
  constexpr std::array<std::string_view, 7> weekdays{"Thursday", "Friday",  "Saturday", "Sunday",
                                                     "Monday",   "Tuesday", "Wednesday"};
  const std::int64_t first = days_since_epoch({calendar_year, 1, 1});
  text += fmt::format("DATA PERIODS,1,1,Data,{},1/1,12/31\n", weekdays[static_cast<std::size_t>((first % 7 + 7) % 7)]);
  // Missing codes in the layout's order: dew point, humidity, pressure, extraterrestrial radiation (2), infrared ...
  constexpr std::string_view before_light = "99.9,999,999999,9999,9999,9999";
  // ... illuminance (3), zenith luminance, wind (2), sky cover (2), visibility, ceiling, present weather (2),
  // precipitable water, aerosol, snow depth, days since snow, albedo, rain depth and duration.
  constexpr std::string_view after_light =
      "999999,999999,999999,9999,999,999,99,99,9999,99999,9,999999999,999,.999,999,99,999,999,99";
  std::size_t row = 0;
  for (const StationRecord& record : year.hours) {
    const CivilDate date = civil_date(first + static_cast<std::int64_t>(row / 24));
    const auto light = [](double value) { return std::isnan(value) ? 9999L : std::lround(value); };
    text += fmt::format("{},{},{},{},0,?,{:.1f},{},{},{},{},{}\n", calendar_year, date.month, date.day, row % 24 + 1,
                        record.air_celsius, before_light, light(record.global_horizontal), light(record.beam_normal),
                        light(record.diffuse_horizontal), after_light);
    ++row;
  }
  return text;
}

}  // namespace overwinter
