// What people read of a limit of processor time that is none, to the letter.
#include <doctest/doctest.h>

#include <filesystem>
#include <string>

#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

/// Refused, and nothing written.
std::string answer(const std::string& command, const std::string& limit) {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says(
      command + " " + OVERWINTER_SOURCE + "/scenarios/peat-bog.yaml --out " + scratch.path("out") + " --limit " + limit,
      scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK_FALSE(std::filesystem::exists(scratch.path("out")));
  CHECK_FALSE(std::filesystem::exists(scratch.path("out-partial")));
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("--limit: values that are none, for each command that has it") {
  for (const std::string command : {"run", "why", "revive"}) {
    CAPTURE(command);
    CHECK(answer(command, "60") == R"(
--limit '60': no unit after 60; --limit is given in s
  try: --limit "60 s"
)");
    CHECK(answer(command, "soon") == R"(
--limit 'soon': --limit must begin with a number, not 'soon'
  try: --limit "60 s"
)");
    CHECK(answer(command, "'0 s'") == R"(
--limit '0 s': --limit must be from 0.1 s to 366 d
  try: --limit "60 s"
)");
    CHECK(answer(command, "'-5 s'") == R"(
--limit '-5 s': --limit must be from 0.1 s to 366 d
  try: --limit "60 s"
)");
    CHECK(answer(command, "'60 V'") == R"(
--limit '60 V': 'V' measures a voltage; --limit is given in s
  try: --limit "a number in s"
)");
    CHECK(answer(command, "''") == R"(
--limit: the value is empty
  try: --limit "60 s"
)");
  }
  const test::Scratch scratch;
  CHECK(test::overwinter_says("zoom a.yaml --event 1 --limit '60 s'", scratch).err ==
        "overwinter zoom: there is no option '--limit'\n  try: overwinter run, which has it\n");
}

TEST_CASE("a place for partial results that holds something else is refused at once") {
  const test::Scratch scratch;
  std::filesystem::create_directory(scratch.path("out-partial"));
  scratch.write("out-partial/notes.txt", "mine");
  const std::string scenario = OVERWINTER_SOURCE "/scenarios/outcomes/survives.yaml";
  for (const std::string command : {"run --limit '60 s'", "why", "revive", "run --seeds 1,2"}) {
    const std::string of = command == "run --seeds 1,2" ? OVERWINTER_SOURCE "/scenarios/snow-stake.yaml" : scenario;
    const test::Said said = test::overwinter_says(command + " --out " + scratch.path("out") + " " + of, scratch);
    CAPTURE(command);
    CHECK(said.code == 2);
    CHECK(said.err == scratch.path("out-partial") +
                          ": the results cannot go here: the folder holds \"notes.txt\", which no run wrote\n"
                          "  try: name a new folder with --out, or move that file away\n");
  }
  // Without a limit a run leaves nothing there, and does not ask.
  CHECK(test::overwinter_says("run --set span.to=2025-03-01 --out " + scratch.path("out") + " " + scenario, scratch)
            .code != 2);
  CHECK(scratch.read("out-partial/notes.txt") == "mine");
}
