#include "sim/weather/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <string_view>
#include <utility>

#include "models/light/sun.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/files.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/weather_fields.hpp"
#include "sim/sha256.hpp"
#include "sim/text.hpp"
#include "sim/weather/csv_rows.hpp"
#include "sim/weather/epw.hpp"

namespace overwinter {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t most_faults = 20;
constexpr Tick shortest_step = 60 * ticks_per_second, longest_step = ticks_per_day;
constexpr Tick longest_jump = 366 * ticks_per_day;  // more is a mistyped year
// Light below zero is the zero offset of a pyranometer under a clear night sky. ISO 9060:2018 lets its classes A, B and
// C have 7, 15 and 30 W/m2 at 200 W/m2 of net thermal radiation (from memory).
constexpr double least_light = -30;
// Sun between bright clouds: above the 1361 W/m2 outside the atmosphere for minutes, up to 1.6 times a clear sky's
// (from memory).
constexpr double most_light = 2000;
constexpr double coldest = -90, hottest = 70;  // degC; the lowest on record is -89.2

Tick ticks(Duration d) { return std::llround(d.si()) * ticks_per_second; }
double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }
std::string apart(Tick t) { return duration_text(seconds(t)); }

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

class Reader {
 public:
  Reader(const std::string& path, const CsvLayout& layout, const Site& site, const std::vector<DaySpan>& spans)
      : layout_(layout),
        site_offset_(ticks(site.utc_offset)),
        observer_(observer_at(site)),
        site_(site),
        spans_(spans) {
    record_.path = path;
    for (const auto* column : {&layout.global_horizontal, &layout.direct_normal, &layout.diffuse_horizontal}) {
      columns_.push_back({*column ? &**column : nullptr, none});
    }
    columns_.push_back({&layout.air, none});
    for (std::size_t at = 0; at < layout.format.missing.size();) {
      const std::size_t end = std::min(layout.format.missing.find(' ', at), layout.format.missing.size());
      if (end > at) missing_.push_back(layout.format.missing.substr(at, end - at));
      at = end + 1;
    }
  }

  MeasuredRecord read() {
    load();
    finish_if_faulty();
    CsvRows rows(text_, csv_separators[layout_.format.separator], std::max(1, layout_.format.header));
    rows_ = &rows;
    find_columns();
    finish_if_faulty();
    read_rows();
    finish_if_faulty();
    find_step();
    finish_if_faulty();
    lay_out();
    finish_if_faulty();
    light_nights();
    fill_gaps();
    for (const DaySpan& span : spans_) check_coverage(span);
    finish_if_faulty();
    record_.sha256 = sha256(text_);
    return std::move(record_);
  }

 private:
  static constexpr std::size_t none = static_cast<std::size_t>(-1);
  enum Quantity { global, direct, diffuse, air, quantities };
  struct Column {
    const CsvColumn* of;  // null: the file has none
    std::size_t index;    // in a row
  };
  struct Raw {
    Tick time;  // UTC of the stamp
    std::size_t begin;
    int line;
    std::array<double, quantities> values;  // SI
  };

  bool full() const { return faults_.size() >= most_faults; }
  void finish_if_faulty() {
    if (faults_.empty()) return;
    if (full()) faults_.back().message += " (reading stopped here)";
    throw InputError(std::move(faults_));
  }

  void fault(Fault f) {
    if (!full()) faults_.push_back(std::move(f));
  }
  Fault at_file(std::string message, std::string suggestion) const {
    Fault f;
    f.place.file = record_.path;
    f.message = std::move(message);
    f.suggestion = std::move(suggestion);
    return f;
  }
  /// About a field of the row that was read last, or, without one, about its line.
  Fault at_field(std::size_t field, std::string message, std::string suggestion) const {
    Fault f = at_file(std::move(message), std::move(suggestion));
    const CsvRows::Place place = rows_->place(field == none ? 0 : field);
    f.place.line = place.line;
    f.place.column = field == none ? 1 : place.column;
    f.width = field == none ? 1 : place.width;
    f.source_line = place.source_line;
    return f;
  }
  Fault at_row(const Raw& row, std::size_t field, std::string message, std::string suggestion) {
    rows_->seek(row.begin, row.line);
    rows_->next();
    return at_field(field, std::move(message), std::move(suggestion));
  }

  void load() {
    std::string why;
    std::optional<std::string> text = read_file(record_.path, why);
    if (!text) {
      const std::string near = nearest_file(record_.path);
      fault(at_file("the weather file " + why, near.empty() ? "give a CSV file" : near));
    } else if (is_epw(*text)) {
      fault(at_file("this file is in the EPW layout, whose columns are known",
                    "leave nothing but the file in the weather section"));
    } else {
      text_ = *std::move(text);
    }
  }

  void find_columns() {
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

  std::size_t find(const CsvColumn& column) {
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

  bool is_missing(std::string_view text) const {
    return text.empty() || std::find(missing_.begin(), missing_.end(), text) != missing_.end();
  }

  void read_rows() {
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
      Raw row{0, rows_->begin(), rows_->line(), {}};
      const bool good = read_time(row.time);
      if (!good && raw_.empty()) return;  // so it would go on, row by row
      for (std::size_t q = 0; q < quantities; ++q) row.values[q] = read_value(columns_[q]);
      if (!good) continue;
      if (!raw_.empty() && row.time <= raw_.back().time) {
        fault(at_field(time_,
                       row.time == raw_.back().time
                           ? "this row has the same time as the one before it"
                           : fmt::format("this row is {}, earlier than the one before it", local(row.time)),
                       "put the rows in order, each once; where a clock is put back in autumn, times need their offset "
                       "from UTC"));
      }
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

  /// A row as wide as the first one, with every column that is asked for, and without values beyond the header.
  bool has_width(std::size_t width) {
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
  /// Of the row, without empty ones at its end.
  std::size_t filled_fields() const {
    std::size_t n = rows_->size();
    while (n > 0 && (*rows_)[n - 1].empty()) --n;
    return n;
  }

  std::size_t needed() const {
    std::size_t last = std::max(time_, clock_ == none ? 0 : clock_);
    for (const Column& column : columns_) {
      if (column.of) last = std::max(last, column.index);
    }
    return last + 1;
  }

  bool read_time(Tick& utc) {
    const CsvTime& time = layout_.time;
    std::string text = trimmed((*rows_)[time_]);
    if (time.since) {
      const std::optional<double> count = number(text, layout_.format.decimal_comma);
      const double longest = seconds(100 * longest_jump);
      if (!count || std::abs(*count * time.column.scale) > longest) {
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

  /// What the scenario lacks where the first row's time is not written as it should be.
  std::string how_to_read(const std::string& text) const {
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

  Tick own_offset() const { return layout_.time.utc_offset ? ticks(*layout_.time.utc_offset) : site_offset_; }
  Tick since_utc() {
    const ClockTime& since = *layout_.time.since;
    shown_offset_ = since.offset.value_or(own_offset());
    return since.local - shown_offset_;
  }
  /// As the file's clock tells it.
  std::string local(Tick utc) const { return clock_text(utc + shown_offset_); }

  double read_value(const Column& column) {
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

  std::string with_missing(std::string_view text) const {
    return layout_.format.missing + (layout_.format.missing.empty() ? "" : " ") + std::string(text);
  }

  void find_step() {
    std::map<Tick, std::size_t> counts;
    for (std::size_t i = 1; i < raw_.size(); ++i) ++counts[raw_[i].time - raw_[i - 1].time];
    const auto most = std::max_element(counts.begin(), counts.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    record_.step = most->first;
    if (record_.step < shortest_step || record_.step > longest_step) {
      fault(at_row(raw_[1], time_, "the rows are " + apart(record_.step) + " apart",
                   "give a file with a row every minute to every day"));
      return;
    }
    for (std::size_t i = 1; i < raw_.size(); ++i) {
      const Tick distance = raw_[i].time - raw_[i - 1].time;
      if (distance % record_.step != 0) {
        fault(at_row(raw_[i], time_,
                     fmt::format("this row comes {} after the one before it, the others are {} apart", apart(distance),
                                 apart(record_.step)),
                     "give rows that are evenly apart; whole rows may be missing"));
      } else if (distance > longest_jump) {
        fault(at_row(raw_[i], time_,
                     fmt::format("this row is {}, {} after the one before it", local(raw_[i].time), apart(distance)),
                     "correct its time, or give a record without years between its rows"));
      }
    }
  }

  /// The rows by their place in time, checked, and not-a-number where there are none.
  void lay_out() {
    const Tick first = raw_.front().time, step = record_.step;
    const Stamp stamp = layout_.time.stamp;
    record_.begin = first - (stamp == Stamp::end ? step : stamp == Stamp::middle ? step / 2 : 0);
    const auto count = static_cast<std::size_t>((raw_.back().time - first) / step + 1);
    record_.rows.assign(count, {missing, missing, missing, missing});
    std::size_t negative = 0;
    double lowest = 0;
    for (const Raw& raw : raw_) {
      MeasuredRow& row = record_.rows[static_cast<std::size_t>((raw.time - first) / step)];
      for (std::size_t q = 0; q < quantities; ++q) {
        double value = raw.values[q];
        if (std::isnan(value)) continue;
        if (q == air) {
          value -= zero_celsius.si();
        } else if (columns_[q].of->sum) {
          value /= seconds(step);
        }
        if (q == air ? value < coldest || value > hottest : value < least_light || value > most_light) {
          fault(out_of_range(raw, q, value));
        }
        if (q != air && value < 0) {
          lowest = std::min(lowest, value);
          ++negative;
          value = 0;
        }
        of(row, q) = value;
      }
      if (full()) return;
    }
    if (negative > 0) {
      record_.warnings.push_back(
          fmt::format("light below zero, which is a sensor's offset at night, counts as zero: {}, "
                      "down to {:.2g} W/m2",
                      how_many(std::to_string(negative), "value"), lowest));
    }
  }

  Fault out_of_range(const Raw& raw, std::size_t q, double value) {
    const CsvColumn& column = *columns_[q].of;
    rows_->seek(raw.begin, raw.line);
    rows_->next();
    const std::string text = trimmed((*rows_)[columns_[q].index]);
    const std::string range = q == air ? fmt::format("{:g}...{:g} degC", coldest, hottest)
                                       : fmt::format("{:g}...{:g} W/m2", least_light, most_light);
    const std::string mean = column.sum ? fmt::format(", {:.4g} W/m2 over {},", value, apart(record_.step)) : "";
    return at_field(columns_[q].index, fmt::format("{} {} {}{} is out of range", column.key, text, column.unit, mean),
                    fmt::format("a value in {}, or the column's right unit; where it stands for no value, missing: {}",
                                range, with_missing(text)));
  }

  static double& of(MeasuredRow& row, std::size_t q) {
    return q == global    ? row.global_horizontal
           : q == direct  ? row.beam_normal
           : q == diffuse ? row.diffuse_horizontal
                          : row.air_celsius;
  }

  /// Light that is missing while the sun is down is none: some loggers do not record it.
  void light_nights() {
    for (std::size_t i = 0; i < record_.rows.size(); ++i) {
      std::optional<bool> night;
      for (std::size_t q = 0; q < air; ++q) {
        double& light = of(record_.rows[i], q);
        if (!columns_[q].of || !std::isnan(light)) continue;
        if (!night) night = sun_up(begin_of(i), begin_of(i + 1), observer_, true_horizon).empty();
        if (*night) light = 0;
      }
    }
  }

  /// Fills what is short, and reports what is long and in the span.
  void fill_gaps() {
    std::vector<MeasuredRow>& rows = record_.rows;
    const Tick step = record_.step;
    const auto most = static_cast<std::size_t>(ticks(layout_.format.fill) / step);
    std::vector<bool> filled(rows.size()), lost(rows.size());
    for (std::size_t q = 0; q < quantities; ++q) {
      if (!columns_[q].of) continue;
      for (std::size_t i = 0; i < rows.size(); ++i) {
        if (!std::isnan(of(rows[i], q))) continue;
        std::size_t end = i;
        while (end < rows.size() && std::isnan(of(rows[end], q))) ++end;
        const bool bridged = end - i <= most && i > 0 && end < rows.size();
        for (std::size_t k = i; k < end; ++k) {
          if (bridged) {
            const double share = static_cast<double>(k - i + 1) / static_cast<double>(end - i + 1);
            of(rows[k], q) = of(rows[i - 1], q) + share * (of(rows[end], q) - of(rows[i - 1], q));
          }
          (bridged ? filled : lost)[k] = true;
        }
        i = end;
      }
    }
    tell_filled(filled);
    tell_lost(lost);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (lost[i]) rows[i].air_celsius = missing;
    }
  }

  void tell_filled(const std::vector<bool>& filled) {
    std::size_t count = 0, gaps = 0, longest = 0, longest_at = 0;
    for (std::size_t i = 0, run = 0; i < filled.size(); ++i) {
      run = filled[i] ? run + 1 : 0;
      count += filled[i];
      gaps += run == 1;
      if (run > longest) longest = run, longest_at = i + 1 - run;
    }
    if (count == 0) return;
    record_.warnings.push_back(
        fmt::format("{} filled by straight lines between the values around {}: {}, the longest {} from {}",
                    gaps == 1 ? "a gap is" : fmt::format("{} gaps are", gaps), gaps == 1 ? "it" : "them",
                    how_many(std::to_string(count), "row"), apart(static_cast<Tick>(longest) * record_.step),
                    local(begin_of(longest_at))));
  }

  Tick begin_of(std::size_t row) const { return record_.begin + static_cast<Tick>(row) * record_.step; }

  void tell_lost(const std::vector<bool>& lost) {
    std::size_t others = 0;
    std::optional<std::pair<std::size_t, std::size_t>> first;
    for (std::size_t i = 0; i < lost.size(); ++i) {
      if (!lost[i]) continue;
      std::size_t end = i;
      while (end < lost.size() && lost[end]) ++end;
      const bool needed = std::any_of(spans_.begin(), spans_.end(), [&, first_lost = i](const DaySpan& span) {
        const TickSpan ticks = ticks_of_span(site_, span.from, span.to);
        return begin_of(end) > ticks.begin && begin_of(first_lost) < ticks.end;
      });
      if (needed) {
        if (first) {
          ++others;
        } else {
          first = {i, end};
        }
      }
      i = end;
    }
    if (!first) return;
    const auto [begin, end] = *first;
    const Tick length = begin_of(end) - begin_of(begin);
    std::vector<std::string> columns;
    bool all = true;
    for (std::size_t q = 0; q < quantities; ++q) {
      if (!columns_[q].of) continue;
      if (std::isnan(of(record_.rows[begin], q))) {
        columns.push_back(columns_[q].of->key);
      } else {
        all = false;
      }
    }
    const auto after = std::find_if(raw_.begin(), raw_.end(), [&, first_lost = begin](const Raw& r) {
      return r.time - raw_.front().time >= static_cast<Tick>(first_lost) * record_.step;
    });
    fault(at_row(after == raw_.end() ? raw_.back() : *after, time_,
                 fmt::format("{} from {} to {} ({}){}", all ? "nothing is recorded" : "there is no " + listed(columns),
                             local(begin_of(begin)), local(begin_of(end)), apart(length),
                             others == 0 ? "" : ", and in " + how_many(std::to_string(others), "other gap")),
                 begin == 0 || end == lost.size()
                     ? "a span without it"
                     : fmt::format("a span without it, or fill: {:g} h, which draws straight lines across it",
                                   seconds(length) / 3600)));
  }

  void check_coverage(const DaySpan& needed) {
    const Tick end = begin_of(record_.rows.size());
    const auto [span_begin, span_end] = ticks_of_span(site_, needed.from, needed.to);
    const bool early = span_begin<record_.begin, late = span_end> end;
    if (!early && !late) return;
    const auto day_at = [&](Tick t) { return civil_date((t + site_offset_) / ticks_per_day); };
    const Tick first = record_.begin + ticks_per_day - 1, last = end - ticks_per_day;
    const CivilDate from = early ? day_at(first) : needed.from, to = late ? day_at(last) : needed.to;
    const std::string all = fmt::format("the rows cover {} to {}", local(record_.begin), local(end));
    const std::string days = iso(needed.from) + " to " + iso(needed.to);
    fault(at_row(early ? raw_.front() : raw_.back(), time_, all + ", not the whole span, " + days,
                 spans_.size() > 1 ? "leave that year out, or give a file of the span's days"
                 : days_since_epoch(from) <= days_since_epoch(to)
                     ? fmt::format("span: {{from: {}, to: {}}}", iso(from), iso(to))
                     : "give a file of the span's days"));
  }

  const CsvLayout& layout_;
  const Tick site_offset_;
  const Observer observer_;
  const Site site_;
  const std::vector<DaySpan> spans_;
  std::string text_;
  MeasuredRecord record_;
  std::vector<Fault> faults_;
  std::vector<Column> columns_;  // by Quantity
  std::vector<std::string> missing_;
  std::size_t time_ = none, clock_ = none;
  std::size_t names_ = 0;  ///< in the header
  Tick shown_offset_ = 0;
  CsvRows* rows_ = nullptr;
  std::vector<Raw> raw_;
};

}  // namespace

MeasuredRecord read_csv(const std::string& path, const CsvLayout& layout, const Site& site,
                        const std::vector<DaySpan>& spans) {
  return Reader(path, layout, site, spans).read();
}

}  // namespace overwinter
