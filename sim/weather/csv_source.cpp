#include "sim/weather/csv_source.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <utility>

#include "sim/netlist/files.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/weather_fields.hpp"
#include "sim/text.hpp"
#include "sim/weather/clock_jumps.hpp"
#include "sim/weather/epw.hpp"

namespace overwinter {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr double longest_count = 100 * 366 * 86400.0;  // s
constexpr Tick hour = 3600 * ticks_per_second;

/// A row that is there twice, and no other.
bool same_values(const CsvRecordRow& a, const CsvRecordRow& b) {
  return std::equal(a.values.begin(), a.values.end(), b.values.begin(),
                    [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); });
}

std::optional<double> number(std::string_view text, bool decimal_comma) {
  char own[64];
  if (decimal_comma) {
    if (text.size() > sizeof own || text.find('.') != std::string_view::npos) return std::nullopt;
    std::replace_copy(text.begin(), text.end(), own, ',', '.');
    text = {own, text.size()};
  }
  if (text.size() > 1 && text.front() == '+' && text[1] != '-') text.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

}  // namespace

CsvSource::CsvSource(std::string path, const CsvLayout& layout, Tick site_offset)
    : path_(std::move(path)), layout_(layout), site_offset_(site_offset) {
  const auto given = [](const std::optional<CsvColumn>& column) { return Column{column ? &*column : nullptr, none}; };
  columns_ = {given(layout.global_horizontal), given(layout.direct_normal), given(layout.diffuse_horizontal),
              Column{&layout.air, none}};
  for (std::size_t at = 0; at < layout.format.missing.size();) {
    const std::size_t end = std::min(layout.format.missing.find(' ', at), layout.format.missing.size());
    if (end > at) missing_.push_back(layout.format.missing.substr(at, end - at));
    at = end + 1;
  }
}

const std::vector<CsvRecordRow>& CsvSource::read() {
  load();
  finish_if_faulty();
  rows_.emplace(text_, csv_separators[layout_.format.separator], std::max(1, layout_.format.header));
  find_columns();
  finish_if_faulty();
  read_rows();
  finish_if_faulty();
  return raw_;
}

Fault CsvSource::at_time(const CsvRecordRow& row, std::string message, std::string suggestion) {
  return at_row(row, time_, std::move(message), std::move(suggestion));
}

std::string CsvSource::text_of(const CsvRecordRow& row, std::size_t quantity) {
  rows_->seek(row.begin, row.line);
  rows_->next();
  return trimmed((*rows_)[columns_[quantity].index]);
}

Fault CsvSource::at_value(const CsvRecordRow& row, std::size_t quantity, std::string message, std::string suggestion) {
  return at_row(row, columns_[quantity].index, std::move(message), std::move(suggestion));
}

void CsvSource::finish_if_faulty() {
  if (faults_.empty()) return;
  if (full()) faults_.back().message += " (reading stopped here)";
  throw InputError(std::move(faults_));
}

void CsvSource::fault(Fault f) {
  if (!full()) faults_.push_back(std::move(f));
}

Fault CsvSource::at_file(std::string message, std::string suggestion) const {
  Fault f;
  f.place.file = path_;
  f.message = std::move(message);
  f.suggestion = std::move(suggestion);
  return f;
}

Fault CsvSource::at_field(std::size_t field, std::string message, std::string suggestion) const {
  Fault f = at_file(std::move(message), std::move(suggestion));
  const CsvRows::Place place = rows_->place(field == none ? 0 : field);
  f.place.line = place.line;
  f.place.column = field == none ? 1 : place.column;
  f.width = field == none ? 1 : place.width;
  f.source_line = place.source_line;
  return f;
}

Fault CsvSource::at_row(const CsvRecordRow& row, std::size_t field, std::string message, std::string suggestion) {
  rows_->seek(row.begin, row.line);
  rows_->next();
  return at_field(field, std::move(message), std::move(suggestion));
}

void CsvSource::load() {
  std::string why;
  std::optional<std::string> text = read_file(path_, why);
  if (!text) {
    const std::string near = nearest_file(path_);
    fault(at_file("the weather file " + why, near.empty() ? "give a CSV file" : near));
  } else if (is_epw(*text)) {
    fault(at_file("this file is in the EPW layout, whose columns are known",
                  "leave nothing but the file in the weather section"));
  } else {
    text_ = *std::move(text);
  }
}

void CsvSource::find_columns() {
  const int header = layout_.format.header;
  if (!rows_->next()) {
    fault(header > 1 ? at_file(fmt::format("the file has no line {}, where its header should be", header),
                               "header: the line with the names of the columns")
                     : at_file("the weather file is empty", "give a CSV file"));
    return;
  }
  if (rows_->size() == 1) {
    const CsvRows::Place line = rows_->place(0);
    const auto other = std::find_if(std::begin(csv_separators), std::end(csv_separators),
                                    [&](char c) { return line.source_line.find(c) != std::string::npos; });
    fault(at_field(none, "the line has only one column",
                   other == std::end(csv_separators)
                       ? "header: the line with the names of the columns"
                       : "separator: " + csv_separator_names()[static_cast<std::size_t>(other - csv_separators)]));
    return;
  }
  names_ = header > 0 ? rows_->size() : 0;
  time_ = find(layout_.time.column);
  if (layout_.time.clock) clock_ = find(*layout_.time.clock);
  for (Column& column : columns_) {
    if (column.of) column.index = find(*column.of);
  }
  if (header == 0) rows_->seek(rows_->begin(), rows_->line());
}

std::size_t CsvSource::find(const CsvColumn& column) {
  std::vector<std::string> names;
  std::size_t found = none, twice = none;
  for (std::size_t i = 0; layout_.format.header > 0 && i < rows_->size(); ++i) {
    names.push_back(trimmed((*rows_)[i]));
    if (names.back() != column.name) continue;
    (found == none ? found : twice) = i;
  }
  std::size_t counted = 0;
  const auto [end, error] = std::from_chars(column.name.data(), column.name.data() + column.name.size(), counted);
  const bool is_number = error == std::errc() && end == column.name.data() + column.name.size();
  Fault f;
  if (found != none && twice == none) return found;
  if (found != none) {
    f = at_field(twice,
                 fmt::format("two columns are named {}, {} and {}", in_quotes(column.name), found + 1, twice + 1),
                 fmt::format("column: {}, or column: {}", found + 1, twice + 1));
  } else if (is_number && counted >= 1 && counted <= rows_->size()) {
    return counted - 1;
  } else if (is_number) {
    f = at_field(none,
                 fmt::format("there is no column {} for {}: the row has {}", column.name, column.key, rows_->size()),
                 "a number from 1 to " + std::to_string(rows_->size()));
  } else {
    const std::string near = nearest(column.name, names);
    f = at_field(none, fmt::format("no column is named {}, for {}", in_quotes(column.name), column.key),
                 layout_.format.header == 0 ? "the column's number, from 1, or header: the line with the names"
                 : near.empty()             ? "one of " + listed(names)
                                            : "column: " + near);
  }
  f.others.push_back(column.named_at);
  fault(std::move(f));
  return none;
}

bool CsvSource::is_missing(std::string_view text) const {
  return text.empty() || std::find(missing_.begin(), missing_.end(), text) != missing_.end();
}

void CsvSource::read_rows() {
  const int begin = layout_.format.rows_from.value_or(layout_.format.header + 1);
  if (begin > layout_.format.header + 1) {
    CsvRows skipped(text_, csv_separators[layout_.format.separator], begin);
    if (skipped.next()) {
      rows_->seek(skipped.begin(), skipped.line());
    } else {
      while (rows_->next()) continue;
    }
  }
  std::size_t width = 0;
  while (!full() && rows_->next()) {
    if (width == 0) width = rows_->size();
    if (!has_width(width)) continue;
    CsvRecordRow row{0, rows_->begin(), rows_->line(), {}};
    const bool good = read_time(row.time);
    if (!good && raw_.empty()) return;  // so it would go on, row by row
    for (std::size_t q = 0; q < csv_quantities; ++q) row.values[q] = read_value(columns_[q]);
    if (!good) continue;
    if (!raw_.empty() && row.time <= raw_.back().time) out_of_order(row);
    raw_.push_back(row);
  }
  if (rows_->broken()) {
    fault(at_field(none, "a quotation mark in the row that begins here is not closed, or stands amid a value",
                   "close it, or write it twice where it is part of a value in quotes"));
  } else if (faults_.empty() && raw_.size() < 2) {
    fault(at_file(raw_.empty() ? "the file has no rows" : "the file has only one row, whose interval is not known",
                  "rows_from: the line where the rows begin"));
  }
}

void CsvSource::out_of_order(const CsvRecordRow& row) {
  const CsvRecordRow& before = raw_.back();
  if (!put_back(row)) {
    fault(at_field(time_,
                   row.time == before.time
                       ? "this row has the same time as the one before it"
                       : fmt::format("this row is {}, earlier than the one before it", local(row.time)),
                   "put the rows in order, each once; where a clock is put back in autumn, times need their offset "
                   "from UTC"));
    return;
  }
  if (told_of_clock_) return;  // once, however many years the record has
  told_of_clock_ = true;
  const Tick step = before.time - raw_[raw_.size() - 2].time;
  const auto forward = std::adjacent_find(raw_.rbegin(), raw_.rend(), [&](const auto& later, const auto& earlier) {
    return later.time - earlier.time == step + hour && clocks_may_change(later.time + shown_offset_);
  });
  fault(at_field(
      time_,
      fmt::format("the clock is put back by an hour here, from {} to {}{}, as daylight saving time does; utc_offset is "
                  "standard time",
                  local(before.time), local(row.time),
                  forward == raw_.rend() ? "" : ", after it was put forward at " + local(std::next(forward)->time)),
      "times in standard time the year round, or each with its offset from UTC, such as 2024-07-01T12:00+02:00"));
}

bool CsvSource::put_back(const CsvRecordRow& row) const {
  if (raw_.size() < 2) return false;
  const Tick step = raw_.back().time - raw_[raw_.size() - 2].time;
  return step > 0 && step <= hour && row.time == raw_.back().time + step - hour && !same_values(row, raw_.back()) &&
         clocks_may_change(row.time + shown_offset_);
}

bool CsvSource::has_width(std::size_t width) {
  const std::size_t size = rows_->size();
  std::string message, suggestion = "complete the row, or remove it: it may have been cut off";
  if (size < needed()) {
    message = fmt::format("the row has {}, {} are needed", how_many(std::to_string(size), "column"), needed());
  } else if (size != width) {
    message = fmt::format("the row has {} columns, the first row has {}", size, width);
    if (size > width) suggestion = "remove what is too much";
  } else if (names_ > 0 && filled_fields() > names_) {
    message = fmt::format("the row has {} columns, the header has {}", size, names_);
    suggestion = "name every column; a decimal comma needs another separator, or quotes around its numbers";
  }
  if (message.empty()) return true;
  fault(at_field(size - 1, std::move(message), std::move(suggestion)));
  return false;
}

std::size_t CsvSource::filled_fields() const {
  std::size_t n = rows_->size();
  while (n > 0 && (*rows_)[n - 1].empty()) --n;
  return n;
}

std::size_t CsvSource::needed() const {
  std::size_t last = std::max(time_, clock_ == none ? 0 : clock_);
  for (const Column& column : columns_) {
    if (column.of) last = std::max(last, column.index);
  }
  return last + 1;
}

bool CsvSource::read_time(Tick& utc) {
  const CsvTime& time = layout_.time;
  std::string text = trimmed((*rows_)[time_]);
  if (time.since) {
    const std::optional<double> count = number(text, layout_.format.decimal_comma);
    if (!count || std::abs(*count * time.column.scale) > longest_count) {
      fault(at_field(time_, "the time " + in_quotes(text) + " is not a number of " + time.column.unit,
                     "remove the row, or its time's unit and since from the scenario"));
      return false;
    }
    utc = since_utc() + std::llround((time.column.offset + time.column.scale * *count) * ticks_per_second);
    return true;
  }
  if (time.clock) text += " " + trimmed((*rows_)[clock_]);
  const std::optional<ClockTime> read = time.form.read(text);
  if (!read) {
    fault(at_field(time_, in_quotes(text) + " is not a time written " + time.form.text(),
                   raw_.empty() ? how_to_read(text) : "write it like the others, or remove the row"));
    return false;
  }
  const Tick offset = read->offset.value_or(own_offset());
  if (raw_.empty()) shown_offset_ = offset;
  utc = read->local - offset;
  return true;
}

std::string CsvSource::how_to_read(const std::string& text) const {
  std::vector<std::string> forms;
  for (const char* day : {"YYYY-MM-DD", "DD.MM.YYYY", "DD/MM/YYYY", "MM/DD/YYYY", "YYYY/MM/DD", "YYYYMMDD"}) {
    for (const char* clock : {"", " hh:mm", " hh:mm:ss", "hhmm", "hhmmss"}) {
      TextFault unused;
      const std::string form = std::string(day) + clock;
      if (TimeForm::parse("form", form, unused)->read(text)) forms.push_back(form);
    }
  }
  if (forms.size() == 1) return "form: " + forms.front();
  if (!forms.empty()) return "form: one of " + listed(forms);
  CsvRows below(text_, csv_separators[layout_.format.separator], rows_->line() + 1);
  for (int i = 0; i < 3 && below.next() && below.size() > needed() - 1; ++i) {
    const std::string time = trimmed(below[time_]) + (clock_ == none ? "" : " " + trimmed(below[clock_]));
    if (layout_.time.form.read(time)) return fmt::format("rows_from: {}", below.line());
  }
  return "form: how it is written, with YYYY, MM, DD, hh, mm and ss; or rows_from: the line where the rows begin";
}

Tick CsvSource::own_offset() const {
  return layout_.time.utc_offset ? std::llround(layout_.time.utc_offset->si()) * ticks_per_second : site_offset_;
}

Tick CsvSource::since_utc() {
  const ClockTime& since = *layout_.time.since;
  shown_offset_ = since.offset.value_or(own_offset());
  return since.local - shown_offset_;
}

std::string CsvSource::local(Tick utc) const { return clock_text(utc + shown_offset_); }

double CsvSource::read_value(const Column& column) {
  if (!column.of) return missing;
  std::string_view text = (*rows_)[column.index];
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  if (is_missing(text)) return missing;
  const std::optional<double> value = number(text, layout_.format.decimal_comma);
  if (value) return column.of->offset + column.of->scale * *value;
  const bool other_sign = number(text, !layout_.format.decimal_comma).has_value();
  fault(at_field(column.index, column.of->key + " " + in_quotes(text) + " is not a number",
                 other_sign ? std::string("decimal: ") + (layout_.format.decimal_comma ? "point" : "comma")
                            : "correct it; or, where it stands for no value, missing: " + with_missing(text)));
  return missing;
}

std::string CsvSource::with_missing(std::string_view text) const {
  return layout_.format.missing + (layout_.format.missing.empty() ? "" : " ") + std::string(text);
}

}  // namespace overwinter
