// The rows of a CSV file as numbers with their times: finds the columns that a layout asks for, reads row by row, and
// says where a fault is.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/input_error.hpp"
#include "sim/netlist/csv_layout.hpp"
#include "sim/weather/csv_rows.hpp"

namespace overwinter {

enum CsvQuantity { csv_global, csv_direct, csv_diffuse, csv_air, csv_quantities };

/// A row as it was read.
struct CsvRecordRow {
  Tick time;  ///< UTC of the stamp
  std::size_t begin;
  int line;
  std::array<double, csv_quantities> values;  ///< SI; not a number where none is given
};

class CsvSource {
 public:
  /// `site_offset` of local time from UTC, where the file does not say.
  CsvSource(std::string path, const CsvLayout& layout, Tick site_offset);

  /// All rows, at least two, in rising order of time. Throws InputError.
  const std::vector<CsvRecordRow>& read();

  /// The column of a quantity in the scenario; null where the file has none.
  const CsvColumn* column(std::size_t quantity) const { return columns_[quantity].of; }
  /// The file's clock minus UTC, of its first row.
  Tick shown_offset() const { return shown_offset_; }
  /// A time as the file's clock tells it.
  std::string local(Tick utc) const;
  const std::string& text() const { return text_; }

  bool full() const { return faults_.size() >= most_faults; }
  void fault(Fault);
  /// Throws what has been found.
  void finish_if_faulty();
  Fault at_time(const CsvRecordRow&, std::string message, std::string suggestion);
  /// The value's text in that row.
  std::string text_of(const CsvRecordRow&, std::size_t quantity);
  Fault at_value(const CsvRecordRow&, std::size_t quantity, std::string message, std::string suggestion);
  /// The scenario's missing: with another text.
  std::string with_missing(std::string_view text) const;

 private:
  static constexpr std::size_t none = static_cast<std::size_t>(-1), most_faults = 20;
  struct Column {
    const CsvColumn* of;
    std::size_t index;  ///< in a row
  };

  Fault at_file(std::string message, std::string suggestion) const;
  /// About a field of the row that was read last, or, without one, about its line.
  Fault at_field(std::size_t field, std::string message, std::string suggestion) const;
  Fault at_row(const CsvRecordRow&, std::size_t field, std::string message, std::string suggestion);
  void load();
  void find_columns();
  std::size_t find(const CsvColumn&);
  bool is_missing(std::string_view text) const;
  void read_rows();
  /// A row as wide as the first one, with every column that is asked for, and without values beyond the header.
  bool has_width(std::size_t width);
  /// Of the row, without empty ones at its end.
  std::size_t filled_fields() const;
  std::size_t needed() const;
  bool read_time(Tick& utc);
  /// About the row that was read last, which is not after the one before it.
  void out_of_order(const CsvRecordRow&);
  /// Whether that row is where a clock is put back at the end of daylight saving time: by an hour, in the night.
  bool put_back(const CsvRecordRow&) const;
  /// What the scenario lacks where the first row's time is not written as it should be.
  std::string how_to_read(const std::string& text) const;
  Tick own_offset() const;
  Tick since_utc();
  double read_value(const Column&);

  const std::string path_;
  const CsvLayout& layout_;
  const Tick site_offset_;
  std::string text_;
  std::vector<Fault> faults_;
  std::array<Column, csv_quantities> columns_;
  std::vector<std::string> missing_;
  std::size_t time_ = none, clock_ = none;
  std::size_t names_ = 0;  ///< in the header
  Tick shown_offset_ = 0;
  bool told_of_clock_ = false;
  std::optional<CsvRows> rows_;
  std::vector<CsvRecordRow> raw_;
};

}  // namespace overwinter
