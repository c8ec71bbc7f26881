#include "sim/netlist/weather_fields.hpp"

#include <memory>

namespace overwinter {
namespace {

using Exposure = Quantity<Dim<0, 1, -2, 0, 0>>;

}  // namespace

const std::vector<std::string>& csv_separator_names() {
  static const std::vector<std::string> names = {"comma", "semicolon", "tab"};
  return names;
}

const std::vector<WeatherColumn>& weather_columns() {
  static const std::vector<WeatherColumn> columns = {
      {"global_horizontal", "global irradiance on the horizontal", unit_of<Irradiance>("W/m2"), true},
      {"direct_normal", "direct irradiance on a plane facing the sun", unit_of<Irradiance>("W/m2"), true},
      {"diffuse_horizontal", "diffuse irradiance on the horizontal", unit_of<Irradiance>("W/m2"), true},
      {"air_temperature", "air temperature, mean over the row's interval", unit_of<Temperature>("degC"), false},
  };
  return columns;
}

Unit light_sum() { return unit_of<Exposure>("Wh/m2"); }

const std::vector<Field>& column_fields() {
  static const ModelTable table = [] {
    FieldsBuilder<WrittenColumn> t("column", "A column of values.");
    t.text("column", &WrittenColumn::column).required().meaning("its name in the header, or its number, from 1");
    t.text("unit", &WrittenColumn::unit)
        .required()
        .meaning("such as W/m2 or degC; light in Wh/m2 or MJ/m2 is the sum over the row's interval");
    return t.done();
  }();
  return table.fields;
}

const std::vector<Field>& time_fields() {
  static const ModelTable table = [] {
    FieldsBuilder<WrittenTime> t("time", "The column of the time stamps.");
    t.text("column", &WrittenTime::column).required().meaning("its name in the header, or its number, from 1");
    t.choice("stamp", &WrittenTime::stamp, {"begin", "middle", "end"})
        .required()
        .meaning("where in the interval that a row stands for its time stamp lies");
    t.text("clock", &WrittenTime::clock)
        .meaning("a second column with the time of day; both are read as one text with a blank between them");
    t.text("form", &WrittenTime::form)
        .meaning("how times are written, with YYYY, MM, DD, hh, mm and ss; without it, as ISO 8601 has it");
    t.scalar("utc_offset", &WrittenTime::utc_offset, "h")
        .at_least(-12 * 3600)
        .at_most(14 * 3600)
        .meaning("clock of the file minus UTC, all the year; without it, the site's, unless the times say their own");
    t.text("unit", &WrittenTime::unit).meaning("of a column of numbers that count from `since`, such as s");
    t.text("since", &WrittenTime::since).meaning("the time, as ISO 8601 has it, at which those numbers are 0");
    return t.done();
  }();
  return table.fields;
}

const std::vector<Field>& csv_fields() {
  static const ModelTable table = [] {
    FieldsBuilder<CsvFormat> t("csv", "How the file is written.");
    t.choice("separator", &CsvFormat::separator, csv_separator_names()).meaning("what stands between columns");
    t.choice("decimal", &CsvFormat::decimal_comma, {"point", "comma"}).meaning("the decimal sign");
    t.text("missing", &CsvFormat::missing)
        .meaning("what stands for a missing value, such as -999 NaN; a column left empty always does");
    t.count("header", &CsvFormat::header)
        .at_least(0)
        .at_most(1000)
        .meaning("the line with the names of the columns; 0 where there is none");
    t.count("rows_from", &CsvFormat::rows_from)
        .at_least(1)
        .at_most(1000)
        .meaning("the line where the rows begin, where that is not the line after the header");
    t.scalar("fill", &CsvFormat::fill, "h")
        .at_least(0)
        .at_most(7 * 86400)
        .meaning("the longest gap that is filled, by straight lines between the values around it")
        .source("3 h: common practice with hourly records; a day of light cannot be guessed");
    return t.done();
  }();
  return table.fields;
}

}  // namespace overwinter
