#include "sim/replay/run_folder.hpp"

#include <doctest/doctest.h>

#include <fstream>

#include "sim/input_error.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

TEST_CASE("nothing stands at the target before publish, everything after") {
  const test::Scratch scratch;
  {
    RunFolder folder(scratch.path("deep/result"));
    std::ofstream(folder.file("summary.json")) << "new";
    CHECK_FALSE(fs::exists(scratch.path("deep/result")));
    folder.publish();
  }
  CHECK(scratch.read("deep/result/summary.json") == "new");
  CHECK(std::distance(fs::directory_iterator(scratch.path("deep")), {}) == 1);
}

TEST_CASE("a folder that is not published disappears and leaves the former result") {
  const test::Scratch scratch;
  fs::create_directory(scratch.path("result"));
  scratch.write("result/summary.json", "old");
  {
    RunFolder folder(scratch.path("result"));
    std::ofstream(folder.file("summary.json")) << "new";
  }
  CHECK(scratch.read("result/summary.json") == "old");
  CHECK(std::distance(fs::directory_iterator(scratch.path("")), {}) == 1);
}

TEST_CASE("someone else's files are not replaced") {
  const test::Scratch scratch;
  fs::create_directory(scratch.path("mine"));
  scratch.write("mine/notes.txt", "do not lose me");
  scratch.write("file", "a file");
  CHECK_THROWS_AS(RunFolder{scratch.path("mine")}, InputError);
  CHECK_THROWS_AS(RunFolder{scratch.path("file")}, InputError);
  CHECK(scratch.read("mine/notes.txt") == "do not lose me");
}

TEST_CASE("an ensemble's members are replaced, but no file among them that no run wrote") {
  const test::Scratch scratch;
  fs::create_directories(scratch.path("all/members"));
  scratch.write("all/members/seed-1.json", "old");
  {
    RunFolder folder(scratch.path("all"));
    folder.write("ensemble.json", "new");
    folder.publish();
  }
  CHECK(scratch.read("all/ensemble.json") == "new");
  CHECK_FALSE(fs::exists(scratch.path("all/members")));
  fs::create_directories(scratch.path("all/members"));
  scratch.write("all/members/notes.txt", "do not lose me");
  CHECK_THROWS_AS(RunFolder{scratch.path("all")}, InputError);
}

TEST_CASE("a file that cannot be written whole is told") {
  const test::Scratch scratch;
  RunFolder folder(scratch.path("result"));
  CHECK_THROWS_AS(folder.write("absent/x.json", "x"), std::runtime_error);
}
