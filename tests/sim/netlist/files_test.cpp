#include "sim/netlist/files.hpp"

#include <doctest/doctest.h>

#include "tests/support/working_folder.hpp"

using namespace overwinter;

TEST_CASE("files are read to the byte") {
  const test::WorkingFolder folder;
  folder.write("a.txt", std::string("x\r\n\0y", 5));
  std::string why;
  CHECK(read_file("a.txt", why) == std::string("x\r\n\0y", 5));
  folder.write("empty", "");
  CHECK(read_file("empty", why) == "");
}

TEST_CASE("files that cannot be read say why") {
  const test::WorkingFolder folder;
  std::string why;
  CHECK_FALSE(read_file("nowhere/a.txt", why).has_value());
  CHECK(why == "does not exist");
  CHECK_FALSE(read_file(".", why).has_value());
  CHECK(why == "is a folder");
  CHECK_FALSE(read_file("/dev/null", why).has_value());
  CHECK(why == "is not a regular file");
}

TEST_CASE("the nearest name in the folder") {
  const test::WorkingFolder folder;
  folder.write("bog.epw", "");
  std::filesystem::create_directory("bug.epv");
  CHECK(nearest_file("bug.epw") == "bog.epw");
  CHECK(nearest_file("bog.epw").empty());  // that is the file itself
  CHECK(nearest_file("weather.csv").empty());
  CHECK(nearest_file("fen.epw").empty());  // the common ending does not count
  CHECK(nearest_file("nowhere/bog.epw").empty());
}
