#include "sim/ensemble/number_list.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

using Numbers = std::vector<int>;

Numbers read(const std::string& text) {
  TextFault why;
  return parse_number_list(text, 0, 1000, why).value_or(Numbers{-1});
}

std::string fault(const std::string& text, int least = 0, int most = 1000) {
  TextFault why;
  CHECK_FALSE(parse_number_list(text, least, most, why));
  CHECK_FALSE(why.suggestion.empty());
  return why.message;
}

}  // namespace

TEST_CASE("number list: numbers, ranges, both, in the order written") {
  CHECK(read("7") == Numbers{7});
  CHECK(read("3,7,9") == Numbers{3, 7, 9});
  CHECK(read("1..5") == Numbers{1, 2, 3, 4, 5});
  CHECK(read("7..7") == Numbers{7});
  CHECK(read("9, 1..3 ,0") == Numbers{9, 1, 2, 3, 0});
}

TEST_CASE("number list: what is none") {
  CHECK(fault("5..1") == "the range 5..1 runs backwards");
  CHECK(fault("") == "'' is neither a whole number nor a range");
  CHECK(fault("1,,2") == "'' is neither a whole number nor a range");
  CHECK(fault("1,") == "'' is neither a whole number nor a range");
  for (const std::string text : {"x", "1.5", "1-5", "-1", "+1", "1...5", "..5", "5..", "1e3", "0x10", "99999999999"}) {
    CHECK(fault(text) == "'" + text + "' is neither a whole number nor a range");
  }
  CHECK(fault("3,1..3") == "3 is given twice");
  CHECK(fault("1001") == "1001 is out of range");
  CHECK(fault("999..1001") == "1001 is out of range");
  CHECK(fault("1699", 1700, 2261) == "1699 is out of range");
  CHECK(fault("0..999999999", 0, 999'999'999) == "these are more than 100000 members");
  TextFault why;
  CHECK(parse_number_list("1..100000", 0, 999'999'999, why)->size() == most_members);
}
