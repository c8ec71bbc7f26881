// Pieces of HTML. A text becomes Html through escaped() only, so that nothing a user wrote can turn into markup.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace overwinter {

struct Html {
  std::string code;
  Html& operator+=(const Html& more) {
    code += more.code;
    return *this;
  }
};

inline Html operator+(Html a, const Html& b) { return a += b; }

Html escaped(std::string_view text);

/// The same, with dates and times of the form 2024-12-28 18:25 kept on one line each.
Html with_whole_dates(std::string_view text);

/// <tag>inner</tag>; `attributes` stand in the opening tag as they are.
Html element(const std::string& tag, const Html& inner, const std::string& attributes = {});

/// A chapter with its heading; nothing if the body is empty.
Html section(const std::string& id, std::string_view heading, const Html& body);

/// <ul> of texts; nothing without any.
Html list_of(const std::vector<std::string>& texts);

/// A sign and the word for it, so that colour is never all there is: yes, no, or undecided.
Html judged(std::optional<bool> answer, std::string_view yes = "yes", std::string_view no = "no",
            std::string_view undecided = "undecided");

/// The class of a judgement in report.css.
std::string class_of(std::optional<bool> answer);

class HtmlTable {
 public:
  struct Column {
    std::string title;
    bool figures = false;  ///< set flush right
  };
  HtmlTable(std::string_view caption, std::vector<Column> columns);
  /// One cell per column, the first heads the row. Throws std::logic_error for another number of cells.
  void row(const std::vector<Html>& cells, const std::string& css_class = {});
  bool empty() const { return rows_.code.empty(); }
  /// Nothing without rows.
  Html html() const;

 private:
  Html caption_;
  std::vector<Column> columns_;
  Html rows_;
};

/// The page with each {{name}} replaced by its piece; what a piece holds is not looked at again. Throws
/// std::logic_error for a name without a piece.
std::string filled(std::string_view page, const std::map<std::string, std::string>& pieces);

}  // namespace overwinter
