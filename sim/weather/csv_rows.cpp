#include "sim/weather/csv_rows.hpp"

#include <algorithm>
#include <new>

#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr unsigned char strict = CSV_STRICT | CSV_STRICT_FINI;

void start(csv_parser& parser, char separator) {
  if (csv_init(&parser, strict) != 0) throw std::bad_alloc();
  csv_set_delim(&parser, static_cast<unsigned char>(separator));
}

}  // namespace

CsvRows::CsvRows(std::string_view text, char separator, int first_line)
    : text_(text), separator_(separator), line_end_(text.find('\n') == std::string_view::npos ? '\r' : '\n') {
  start(parser_, separator);
  constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
  if (text_.substr(0, byte_order_mark.size()) == byte_order_mark) next_ = byte_order_mark.size();
  while (next_line_ < first_line && next_ < text_.size()) {
    next_ = std::min(text_.find(line_end_, next_), text_.size() - 1) + 1;
    ++next_line_;
  }
}

CsvRows::~CsvRows() { csv_free(&parser_); }

bool CsvRows::next() {
  const auto field = [](void* bytes, std::size_t size, void* self) {
    auto& rows = *static_cast<CsvRows*>(self);
    rows.fields_.append(static_cast<const char*>(bytes), size);
    rows.ends_.push_back(rows.fields_.size());
  };
  const auto row = [](int, void* self) { static_cast<CsvRows*>(self)->complete_ = true; };
  fields_.clear();
  ends_.clear();
  complete_ = broken_ = false;
  begin_ = next_;
  line_ = next_line_;
  while (!complete_ && next_ < text_.size()) {
    const std::size_t end = std::min(text_.find(line_end_, next_), text_.size() - 1) + 1;
    const std::size_t read = csv_parse(&parser_, text_.data() + next_, end - next_, field, row, this);
    broken_ = read != end - next_;
    next_ = end;
    ++next_line_;
    if (!broken_ && next_ == text_.size()) broken_ = csv_fini(&parser_, field, row, this) != 0;
    if (broken_) {
      next_ = text_.size();
      return false;
    }
    if (!complete_ && ends_.empty() && trimmed(line_from(begin_)).empty()) {  // an empty line
      begin_ = next_;
      line_ = next_line_;
    }
  }
  return complete_;
}

std::string_view CsvRows::line_from(std::size_t begin) const {
  std::string_view line = text_.substr(begin, text_.find(line_end_, begin) - begin);
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

CsvRows::Place CsvRows::place(std::size_t field) const {
  struct Search {
    std::size_t wanted, found = 0, fields = 0, at = 0, end = 0;
  };
  Search search{field};
  const auto ended = [](void*, std::size_t, void* self) {
    auto& s = *static_cast<Search*>(self);
    if (s.fields == s.wanted) s.end = s.at;
    if (s.fields + 1 == s.wanted) s.found = s.at + 1;
    ++s.fields;
  };
  csv_parser parser;
  start(parser, separator_);
  for (search.at = begin_; search.at < text_.size() && search.end == 0; ++search.at) {
    csv_parse(&parser, text_.data() + search.at, 1, ended, nullptr, &search);
  }
  csv_free(&parser);
  std::size_t first = std::max(begin_, search.found), last = search.end > 0 ? search.end : text_.size();
  const auto blank = [&](std::size_t i) {
    return std::string_view(" \t\r\n").find(text_[i]) != std::string_view::npos;
  };
  while (last > first && blank(last - 1)) --last;
  while (first < last && blank(first)) ++first;

  Place place{line_, 1, 1, {}};
  std::size_t line_begin = begin_;
  for (std::size_t i = begin_; i < first; ++i) {
    if (text_[i] != line_end_) continue;
    ++place.line;
    line_begin = i + 1;
  }
  const std::string_view source = line_from(line_begin);
  place.source_line = source;
  place.column = characters(text_.substr(line_begin, first - line_begin)) + 1;
  place.width = std::max(1, characters(text_.substr(first, std::min(last, line_begin + source.size()) - first)));
  return place;
}

void CsvRows::seek(std::size_t begin, int line) {
  next_ = begin;
  next_line_ = line;
}

}  // namespace overwinter
