// The rows of a CSV text as RFC 4180 has them: a field in quotes may hold separators, line ends and doubled quotes.
#pragma once

#include <csv.h>

#include <string>
#include <string_view>
#include <vector>

namespace overwinter {

/// A view of the text, which must outlive it, read by libcsv. Blanks around fields without quotes are dropped, empty
/// lines passed over. Lines end with LF, CR LF or, in a text without any LF, CR.
class CsvRows {
 public:
  /// Begins with the text's line `first_line`, counted from 1.
  CsvRows(std::string_view text, char separator, int first_line = 1);
  ~CsvRows();
  CsvRows(const CsvRows&) = delete;
  CsvRows& operator=(const CsvRows&) = delete;

  /// Reads the next row. False at the end of the text, and where quotes are `broken()`.
  bool next();
  /// Quotes that are not closed, or stand amid a field, in the row that was to be read.
  bool broken() const { return broken_; }

  std::size_t size() const { return ends_.size(); }
  /// Fields count from 0. Valid until next().
  std::string_view operator[](std::size_t field) const {
    const std::size_t begin = field == 0 ? 0 : ends_[field - 1];
    return std::string_view(fields_).substr(begin, ends_[field] - begin);
  }
  /// The line in which the row begins.
  int line() const { return line_; }
  /// Where the row begins in the text.
  std::size_t begin() const { return begin_; }

  /// Where the field stands in the text.
  struct Place {
    int line, column, width;
    std::string source_line;
  };
  Place place(std::size_t field) const;
  /// Goes back to a row, by its begin() and line().
  void seek(std::size_t begin, int line);

 private:
  std::string_view line_from(std::size_t begin) const;

  std::string_view text_;
  char separator_;
  char line_end_;
  csv_parser parser_;
  std::string fields_;
  std::vector<std::size_t> ends_;
  std::size_t begin_ = 0, next_ = 0;
  int line_ = 1, next_line_ = 1;
  bool complete_ = false, broken_ = false;
};

}  // namespace overwinter
