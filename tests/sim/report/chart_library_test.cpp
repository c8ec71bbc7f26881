#include "sim/report/chart_library.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

using namespace overwinter;

TEST_CASE("the library comes with its licence, which cannot end the comment it stands in") {
  const std::string piece = chart_library("report.js");
  const std::size_t begin = piece.find("<!--"), end = piece.find("-->");
  REQUIRE(begin != std::string::npos);
  REQUIRE(end != std::string::npos);
  const std::string licence = piece.substr(begin + 4, end - begin - 4);
  CHECK(licence.find("Copyright") != std::string::npos);
  CHECK(licence.find("--") == std::string::npos);
  CHECK(piece.find("Dygraph", end) != std::string::npos);
  CHECK(piece.find(embedded_file("report.js"), end) != std::string::npos);
}

TEST_CASE("a file that is not embedded") {
  CHECK_THROWS_AS(embedded_file("nothing.js"), std::logic_error);
  CHECK_THROWS_AS(chart_library("nothing.js"), std::logic_error);
}
