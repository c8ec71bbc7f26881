#include "sim/ensemble/members.hpp"

#include <doctest/doctest.h>

#include <filesystem>

#include "sim/input_error.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

Scenario from_a_file() {
  Scenario s;
  s.from = {2024, 10, 15};
  s.to = {2025, 3, 31};
  s.weather_file = "station.epw";
  return s;
}

Scenario synthetic() {
  Scenario s = from_a_file();
  s.seed = 1;
  return s;
}

Scenario record() {
  Scenario s = from_a_file();
  s.csv.emplace();
  return s;
}

std::vector<std::string> names(const Scenario& s, const Axes& axes) {
  std::vector<std::string> all;
  for (const Member& m : members_of(s, axes)) all.push_back(m.name);
  return all;
}

std::string fault(const Scenario& s, const Axes& axes) {
  try {
    members_of(s, axes);
  } catch (const InputError& e) {
    REQUIRE(e.faults().size() == 1);
    CHECK_FALSE(e.faults().front().suggestion.empty());
    return e.faults().front().message;
  }
  return {};
}

}  // namespace

TEST_CASE("members: where nothing is varied there is one, and it asks for nothing") {
  const std::vector<Member> all = members_of(from_a_file(), {});
  REQUIRE(all.size() == 1);
  CHECK(options_of(all.front()).empty());
}

TEST_CASE("members: named after what makes them, in the order given, every combination") {
  using Names = std::vector<std::string>;
  CHECK(names(synthetic(), {{}, {7, 3}, {}}) == Names{"seed-7", "seed-3"});
  CHECK(names(record(), {{}, {}, {2009, 2010}}) == Names{"2009", "2010"});
  CHECK(names(synthetic(), {{}, {1, 2}, {2009, 2010}}) ==
        Names{"seed-1-2009", "seed-1-2010", "seed-2-2009", "seed-2-2010"});
  CHECK(names(from_a_file(), {{"a/moor.epw", "b/fen.epw"}, {}, {}}) == Names{"moor", "fen"});
  CHECK(names(record(), {{"moor.csv", "fen.csv"}, {}, {2001}}) == Names{"moor-2001", "fen-2001"});
}

TEST_CASE("members: files of the same name are told apart by their folders, or else by number") {
  using Names = std::vector<std::string>;
  CHECK(names(from_a_file(), {{"a/x.epw", "b/x.epw", "y.epw"}, {}, {}}) == Names{"a-x", "b-x", "y"});
  CHECK(names(from_a_file(), {{"1/a/x.epw", "2/a/x.epw"}, {}, {}}) == Names{"a-x", "a-x-2"});
  CHECK(names(from_a_file(), {{"b/a-x.epw", "a/x.epw", "c/x.epw"}, {}, {}}) == Names{"a-x", "a-x-2", "c-x"});
}

TEST_CASE("members: what cannot be varied") {
  const test::WorkingFolder folder;
  folder.write("moor.epw", "LOCATION,x\n");
  CHECK(fault(from_a_file(), {{}, {1, 2}, {}}) ==
        "the scenario's weather is a file, not synthetic: no seed changes it");
  CHECK(fault(from_a_file(), {{}, {1}, {}}) != "");
  CHECK(fault(synthetic(), {{"a.epw"}, {1}, {}}) == "a seed means nothing to a weather file, and --weather gives one");
  CHECK(fault(from_a_file(), {{}, {}, {2009}}) ==
        "the weather of station.epw is one year that is laid onto any other: every member would be the same");
  CHECK(fault(record(), {{"moor.epw"}, {}, {2009}}).find("the weather of moor.epw is one year") == 0);
  CHECK(fault(synthetic(), {{}, {}, {2261}}) == "a span that begins in 2261 leaves the calendar, 1700 to 2261");
  CHECK(fault(from_a_file(), {{"moor.epw", "moor.epw"}, {}, {}}) == "'moor.epw' is given twice");
  CHECK(fault(from_a_file(), {{"moor.epw", "./moor.epw"}, {}, {}}) == "'./moor.epw' and 'moor.epw' are the same file");
  std::vector<int> thousand(1000);
  for (int i = 0; i < 1000; ++i) thousand[static_cast<std::size_t>(i)] = i;
  std::vector<int> years(101, 2001);
  CHECK(fault(synthetic(), {{}, thousand, years}) == "these are 101000 members, more than 100000");
}

TEST_CASE("members: the options that run one alone, as a shell reads them") {
  CHECK(options_of({"x", std::nullopt, 7, 2009}) == " --seeds 7 --years 2009");
  CHECK(options_of({"x", "my stations/o'er.epw", std::nullopt, std::nullopt}) ==
        " --weather 'my stations/o'\\''er.epw'");
  CHECK(in_shell("a/b-1.epw") == "a/b-1.epw");
  CHECK(in_shell("") == "''");
}
