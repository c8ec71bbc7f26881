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

TEST_CASE("what is kept stands beside the former result and grows there; published, it takes that one's place") {
  const test::Scratch scratch;
  fs::create_directory(scratch.path("result"));
  scratch.write("result/summary.json", "former");
  {
    RunFolder folder(scratch.path("result"), Kept::partly);
    folder.write("summary.json", "one");
    CHECK_FALSE(folder.is_kept());
    folder.keep();
    CHECK(folder.is_kept());
    CHECK(folder.partial() == scratch.path("result-partial"));
    CHECK(scratch.read("result-partial/summary.json") == "one");
    folder.write("summary.json", "two");
    folder.keep();
    CHECK(scratch.read("result-partial/summary.json") == "two");
  }
  CHECK(scratch.read("result/summary.json") == "former");
  CHECK(scratch.read("result-partial/summary.json") == "two");
  {
    RunFolder folder(scratch.path("result"), Kept::partly);
    folder.write("summary.json", "three");
    folder.keep();
    CHECK(scratch.read("result-partial/summary.json") == "three");
    folder.write("summary.json", "four");
    folder.publish();
  }
  CHECK(scratch.read("result/summary.json") == "four");
  CHECK(scratch.read("result-partial/summary.json") == "two");  // back in its place
  { RunFolder swept(scratch.path("result"), Kept::partly); }
  CHECK(scratch.read("result-partial/summary.json") == "two");
  CHECK(std::distance(fs::directory_iterator(scratch.path("")), {}) == 2);
}

TEST_CASE("published without a former partial result, what was kept leaves none") {
  const test::Scratch scratch;
  {
    RunFolder folder(scratch.path("result"), Kept::partly);
    folder.write("summary.json", "one");
    folder.keep();
    folder.publish();
  }
  CHECK(scratch.read("result/summary.json") == "one");
  CHECK(std::distance(fs::directory_iterator(scratch.path("")), {}) == 1);
}

TEST_CASE("someone else's files are not replaced by a partial result either, and only that one asks") {
  const test::Scratch scratch;
  fs::create_directory(scratch.path("mine-partial"));
  scratch.write("mine-partial/notes.txt", "do not lose me");
  CHECK_THROWS_AS((RunFolder{scratch.path("mine"), Kept::partly}), InputError);
  { RunFolder whole(scratch.path("mine")); }
  CHECK(scratch.read("mine-partial/notes.txt") == "do not lose me");
}

TEST_CASE("a link to a result stays a link, and what is kept stands beside what it leads to") {
  const test::Scratch scratch;
  fs::create_directory(scratch.path("third"));
  fs::create_directory_symlink("third", scratch.path("latest"));
  {
    RunFolder folder(scratch.path("latest"), Kept::partly);
    folder.write("summary.json", "new");
    folder.keep();
    CHECK(fs::path(folder.partial()).filename() == "third-partial");
  }
  CHECK(scratch.read("third-partial/summary.json") == "new");
  CHECK(fs::is_symlink(scratch.path("latest")));
}

TEST_CASE("what is known is written at first, and then not at every call") {
  Refresh refresh;
  int written = 0;
  for (int i = 0; i < 1000; ++i) refresh.now_and_then([&] { ++written; });
  CHECK(written == 1);
}
