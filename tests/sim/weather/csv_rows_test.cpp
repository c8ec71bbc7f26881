#include "sim/weather/csv_rows.hpp"

#include <doctest/doctest.h>

#include <vector>

using namespace overwinter;

namespace {

using Row = std::vector<std::string>;

std::vector<Row> all(const std::string& text, char separator = ',', int first_line = 1) {
  CsvRows rows(text, separator, first_line);
  std::vector<Row> result;
  while (rows.next()) {
    result.emplace_back();
    for (std::size_t i = 0; i < rows.size(); ++i) result.back().emplace_back(rows[i]);
  }
  CHECK(!rows.broken());
  return result;
}

}  // namespace

TEST_CASE("rows of every line end, with and without one at the end") {
  const std::vector<Row> expected = {{"a", "b"}, {"1", ""}, {"", "2"}};
  CHECK(all("a,b\n1,\n,2") == expected);
  CHECK(all("a,b\n1,\n,2\n") == expected);
  CHECK(all("a,b\r\n1,\r\n,2\r\n") == expected);
  CHECK(all("a,b\r1,\r,2\r") == expected);
  CHECK(all("\xEF\xBB\xBF"
            "a,b\n1,\n,2\n") == expected);
  CHECK(all("a;b\n1;\n;2\n", ';') == expected);
  CHECK(all("a\tb\n1\t\n\t2\n", '\t') == expected);
  CHECK(all("").empty());
}

// The examples of RFC 4180, section 2, rules 5 to 7.
TEST_CASE("fields in quotes hold separators, line ends and quotes") {
  CHECK(all("\"aaa\",\"b \r\nbb\",\"ccc\"\r\nzzz,yyy,xxx") ==
        std::vector<Row>{{"aaa", "b \r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}});
  CHECK(all("\"aaa\",\"b\"\"bb\",\"c,c\"\r\n") == std::vector<Row>{{"aaa", "b\"bb", "c,c"}});
}

TEST_CASE("empty lines are passed over, blanks around fields are dropped, lines are counted") {
  const std::string text = "name, x\n\n  \n1, 2 \n\"a\nb\",3\n4,5\n";
  CsvRows rows(text, ',');
  std::vector<int> lines;
  while (rows.next()) lines.push_back(rows.line());
  CHECK(lines == std::vector<int>{1, 4, 5, 7});
  CHECK(all(text, ',', 4) == std::vector<Row>{{"1", "2"}, {"a\nb", "3"}, {"4", "5"}});
  CHECK(all(text, ',', 100).empty());
}

TEST_CASE("a field's place in the text, in characters, and back to a row") {
  const std::string text = "h\xC3\xB6he, T\n1,\"2\n\", \"x y\"\n3,,4\n";
  CsvRows rows(text, ',');
  const auto place = [&](std::size_t field) {
    const CsvRows::Place p = rows.place(field);
    return std::to_string(p.line) + ":" + std::to_string(p.column) + "+" + std::to_string(p.width);
  };
  REQUIRE(rows.next());
  CHECK(place(0) == "1:1+4");
  CHECK(place(1) == "1:7+1");
  CHECK(rows.place(1).source_line == "h\xC3\xB6he, T");
  REQUIRE(rows.next());
  const std::size_t begin = rows.begin();
  CHECK(place(1) == "2:3+2");
  CHECK(place(2) == "3:4+5");
  CHECK(rows.place(2).source_line == "\", \"x y\"");
  REQUIRE(rows.next());
  CHECK(place(1) == "4:3+1");
  CHECK(!rows.next());
  rows.seek(begin, 2);
  REQUIRE(rows.next());
  CHECK(rows[2] == "x y");
  CHECK(rows.line() == 2);
}

TEST_CASE("quotes that do not close, or stand amid a field") {
  for (const char* text : {"a,b\n1,\"2\n3,4\n", "a,b\n1,2\"3\n", "a,b\n1,\"2\"3\n"}) {
    CAPTURE(text);
    CsvRows rows(text, ',');
    CHECK(rows.next());
    CHECK(!rows.next());
    CHECK(rows.broken());
    CHECK(rows.line() == 2);
    CHECK(!rows.next());
  }
}
