#include "sim/input_error.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

TEST_CASE("a fault is a place, a message, the source line with a caret, a suggestion and the other places") {
  Fault fault{{"a.yaml", 3, 5}, "it is wrong", "right", "one two three", 3, {}};
  fault.others.push_back({{"b.yaml", 1, 1}, "the other", "four", 4});
  CHECK(render(fault) ==
        "a.yaml:3:5: it is wrong\n"
        "    one two three\n"
        "        ^^^\n"
        "  try: right\n"
        "  b.yaml:1:1: the other\n"
        "    four\n"
        "    ^^^^");
}

TEST_CASE("what is not known about a place is left out") {
  CHECK(render({{"a.yaml", 0, 0}, "is a folder", "", "", 1, {}}) == "a.yaml: is a folder");
  CHECK(render({{"a.yaml", 4, 0}, "wrong", "", "text", 1, {}}) == "a.yaml:4: wrong");
  CHECK(render({{}, "wrong", "", "", 1, {}}) == "wrong");
}

TEST_CASE("the caret stands below the character in any script") {
  CHECK(render({{"a", 1, 5}, "m", "", "größ β", 1, {}}) == "a:1:5: m\n    größ β\n        ^");
  CHECK(render({{"a", 1, 6}, "m", "", "größ β", 1, {}}) == "a:1:6: m\n    größ β\n         ^");
  SUBCASE("wide characters take two cells (Unicode 15, EastAsianWidth.txt: W)") {
    CHECK(render({{"a", 1, 3}, "m", "", "電圧x", 1, {}}) == "a:1:3: m\n    電圧x\n        ^");
    CHECK(render({{"a", 1, 2}, "m", "", "電圧x", 1, {}}) == "a:1:2: m\n    電圧x\n      ^^");
  }
  SUBCASE("combining marks take none") {
    CHECK(render({{"a", 1, 3}, "m", "", "e\xCC\x81x", 1, {}}) == "a:1:3: m\n    e\xCC\x81x\n     ^");
  }
}

TEST_CASE("a tab is one blank and control characters cannot reach the terminal") {
  CHECK(render({{"a", 1, 2}, "red \x1B[31m", "", "\tx\x1B[0m\xC2\x9B", 1, {}}) ==
        "a:1:2: red ?[31m\n     x?[0m?\n     ^");
}

TEST_CASE("a caret beyond the end of the line and one wider than the line stay near it") {
  CHECK(render({{"a", 1, 9}, "m", "", "abc", 5, {}}) == "a:1:9: m\n    abc\n       ^");
  CHECK(render({{"a", 1, 2}, "m", "", "abc", 50, {}}) == "a:1:2: m\n    abc\n     ^^");
}

TEST_CASE("a long line is cut around the place") {
  std::string line(500, '-');
  line.replace(300, 3, "abc");
  const std::string text = render({{"a", 1, 301}, "m", "", line, 3, {}});
  const std::string cut = std::string(40, '-') + "abc" + std::string(57, '-');
  CHECK(text == "a:1:301: m\n    ..." + cut + "...\n    " + std::string(43, ' ') + "^^^");
  SUBCASE("at its start and at its end") {
    CHECK(render({{"a", 1, 1}, "m", "", line, 1, {}}) == "a:1:1: m\n    " + std::string(100, '-') + "...\n    ^");
    CHECK(render({{"a", 1, 500}, "m", "", line, 1, {}}) ==
          "a:1:500: m\n    ..." + std::string(100, '-') + "\n    " + std::string(102, ' ') + "^");
  }
}

TEST_CASE("all faults are in what()") {
  const InputError error({{{"a", 1, 1}, "first", "", "", 1, {}}, {{"a", 2, 1}, "second", "", "", 1, {}}});
  CHECK(error.faults().size() == 2);
  CHECK(std::string(error.what()) == "a:1:1: first\n\na:2:1: second");
}

TEST_CASE("the nearest word") {
  const std::vector<std::string> known = {"resistance", "temperature_coefficient", "model", "part"};
  CHECK(nearest("resistence", known) == "resistance");
  CHECK(nearest("Resistance", known) == "resistance");
  CHECK(nearest("modle", known) == "model");
  CHECK(nearest("prat", known) == "part");
  CHECK(nearest("colour", known).empty());
  CHECK(nearest("", known).empty());
  CHECK(nearest("model", {}).empty());
  SUBCASE("two characters are too few for a guess") { CHECK(nearest("w9", {"w2"}).empty()); }
  SUBCASE("the first of equals wins") { CHECK(nearest("cell-3", {"cell-1", "cell-2"}) == "cell-1"); }
}

TEST_CASE("a word that is the beginning or a part of others") {
  CHECK(nearest("lat", {"latitude", "longitude"}) == "latitude");
  CHECK(nearest("la", {"latitude", "longitude"}).empty());
  CHECK(nearest("18650", {"a-18650-1", "b-18650-2", "pouch"}).empty());  // not the only one
  CHECK(nearest("186", {"a-18650-1"}).empty());
}

TEST_CASE("suggestions name all that are as near") {
  CHECK(suggested("out_5", {"bus", "out_1", "out_2"}) == "one of out_1, out_2");
  CHECK(suggested("out-1", {"bus", "out_1", "out_2"}) == "out_1");
  CHECK(suggested("18650", {"a-18650-1", "b-18650-2", "pouch"}) == "one of a-18650-1, b-18650-2");
  CHECK(suggested("colour", {"model"}).empty());
  CHECK(all_meant("lat", {"latitude", "lateness", "flat"}) == std::vector<std::string>{"flat"});  // one letter away
}

TEST_CASE("bytes that are not UTF-8 cannot reach the terminal") {
  CHECK(render({{"a", 1, 1}, "m \xD8.", "", "x\xFFy", 1, {}}) == "a:1:1: m ?.\n    x?y\n    ^");
}
