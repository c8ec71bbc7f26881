#include "sim/revive/boxes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdint>

using namespace overwinter;
using Values = std::vector<std::vector<std::size_t>>;

namespace {

bool holds(const Box& box, const TableRow& row) {
  for (std::size_t d = 0; d < row.values.size(); ++d) {
    if (std::find(box.values[d].begin(), box.values[d].end(), row.values[d]) == box.values[d].end()) return false;
  }
  return true;
}

}  // namespace

TEST_CASE("boxes: what decides is narrow, what does not is wide") {
  std::vector<TableRow> rows;
  for (std::size_t a = 0; a < 2; ++a) {
    for (std::size_t b = 0; b < 3; ++b) rows.push_back({{a, b}, a == 0 ? "dead" : "back"});
  }
  const auto boxes = boxes_of(rows, {2, 3}, {1, 0});
  REQUIRE(boxes.size() == 2);
  CHECK(boxes[0].outcome == "dead");
  CHECK(boxes[0].values == Values{{0}, {0, 1, 2}});
  CHECK(boxes[0].rows == std::vector<std::size_t>{0, 1, 2});
  CHECK(boxes[1].values == Values{{1}, {0, 1, 2}});
  CHECK(boxes[1].rows == std::vector<std::size_t>{3, 4, 5});
}

TEST_CASE("boxes: either of two causes is two boxes, which may overlap; each row is counted with one of them") {
  std::vector<TableRow> rows;
  for (std::size_t a = 0; a < 3; ++a) {
    for (std::size_t b = 0; b < 3; ++b) rows.push_back({{a, b}, a == 0 || b == 2 ? "dead" : "back"});
  }
  const auto boxes = boxes_of(rows, {3, 3}, {1, 0});
  REQUIRE(boxes.size() == 3);
  CHECK(boxes[0].values == Values{{0}, {0, 1, 2}});
  CHECK(boxes[0].rows.size() == 3);
  CHECK(boxes[1].values == Values{{0, 1, 2}, {2}});
  CHECK(boxes[1].rows.size() == 2);
  CHECK(boxes[2].values == Values{{1, 2}, {0, 1}});
}

TEST_CASE("boxes: a combination that is no row fits anywhere, but brings no value of its own") {
  // With 1 only (1, 2) is a row, of the other outcome; with 2 there is none at all.
  const std::vector<TableRow> rows{{{0, 0}, "dead"}, {{0, 1}, "dead"}, {{1, 2}, "back"}};
  const auto boxes = boxes_of(rows, {3, 3}, {1, 0});
  REQUIRE(boxes.size() == 2);
  CHECK(boxes[0].values == Values{{0}, {0, 1, 2}});
  CHECK(boxes[1].values == Values{{1}, {0, 1, 2}});
}

TEST_CASE("boxes: those of any table are pure and cover it") {
  std::uint32_t seed = 1;
  const auto draw = [&](std::uint32_t n) {  // linear congruence, constants of Numerical Recipes
    seed = seed * 1664525u + 1013904223u;
    return (seed >> 16) % n;
  };
  for (int table = 0; table < 20; ++table) {
    std::vector<TableRow> rows;
    for (std::size_t a = 0; a < 3; ++a) {
      for (std::size_t b = 0; b < 2; ++b) {
        for (std::size_t c = 0; c < 4; ++c) {
          if (draw(4) > 0) rows.push_back({{a, b, c}, std::string(1, static_cast<char>('a' + draw(3)))});
        }
      }
    }
    std::vector<int> covered(rows.size(), 0);
    for (const Box& box : boxes_of(rows, {3, 2, 4}, {2, 1, 0})) {
      CHECK_FALSE(box.rows.empty());
      for (const TableRow& row : rows) CHECK((row.outcome == box.outcome || !holds(box, row)));
      for (const std::size_t i : box.rows) {
        CHECK(holds(box, rows[i]));
        ++covered[i];
      }
    }
    CHECK(std::all_of(covered.begin(), covered.end(), [](int times) { return times == 1; }));
  }
}
