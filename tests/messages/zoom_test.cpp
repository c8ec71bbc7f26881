// What people read when a moment to zoom at is wrong, to the letter.
#include <doctest/doctest.h>

#include <filesystem>
#include <string>

#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

/// What `zoom` of a shipped scenario answers; every one of these is refused before anything is written.
std::string answer(const std::string& options, const std::string& scenario = "peat-bog") {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says("zoom " + std::string(OVERWINTER_SOURCE) + "/scenarios/" + scenario +
                                                    ".yaml " + options + " --out " + scratch.path("zoom"),
                                                scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  CHECK_FALSE(std::filesystem::exists(scratch.path("zoom")));
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("no moment, and two") {
  CHECK(answer("") == R"(
overwinter zoom: no moment is given
  try: one of --at TIME, --event N and --from FILE
)");
  CHECK(answer("--at 2024-12-28 --event 12") == R"(
overwinter zoom: more than one moment is given
  try: one of --at TIME, --event N and --from FILE
)");
  CHECK(answer("--at ''") == R"(
--at: the value is empty
  try: --at "2024-12-28 18:25:43"
)");
}

TEST_CASE("moments that are none") {
  CHECK(answer("--at noon") == R"(
--at 'noon': 'noon' is no time
  try: write YYYY-MM-DD hh:mm:ss such as "2024-10-15 00:00", on the site's standard time, or in UTC with a Z behind it
)");
  CHECK(answer("--at 2025-01-21T00:00Z") == R"(
--at '2025-01-21T00:00Z': '2025-01-21T00:00Z' lies outside the scenario's span
  try: a time from 2024-10-15 00:00 to before 2025-01-21 00:00 of the site's standard time
)");
  CHECK(answer("--event B0") == R"(
--event 'B0': 'B0' is neither an event nor a brown-out
  try: the number of a row of events.csv, such as 12, or a brown-out's number in the report, such as B1
)");
  CHECK(answer("--at 2024-12-28 18:25") == R"(
overwinter zoom: '18:25' is one argument too many
  try: overwinter zoom FILE; a value with a blank needs quotes
)");
}

TEST_CASE("windows that are none") {
  CHECK(answer("--event 1 --before 5") == R"(
--before '5': no unit after 5; --before is given in ms
  try: --before "5 ms"
)");
  CHECK(answer("--event 1 --after '2 h'") == R"(
--after '2 h': --after must be from 0 ms to 1 h
  try: --after "4 ms"
)");
  CHECK(answer("--event 1 --before 0 --after 0") == R"(
--before '0': the window has no length
  try: --before "1 ms"
)");
}

TEST_CASE("files of a moment that are none") {
  CHECK(answer("--from no/such/moment.json") == R"(
--from 'no/such/moment.json': the file does not exist
  try: moment.json in the folder of a zoom
)");
  CHECK(answer("--from x --before '1 ms'") == R"(
--before '1 ms': what is before the moment stands in the file
  try: --from FILE without --before
)");
  const test::Scratch scratch;
  const std::string other = scratch.write("notes.json", "[1, 2]");
  CHECK(answer("--from " + other) == "\n" + other +
                                         ": this is no moment of a zoom: it is no object in JSON\n"
                                         "  try: moment.json out of the folder that a zoom has written\n");
}

TEST_CASE("events that the run does not have") {
  CHECK(answer("--event B1", "outcomes/survives") == R"(
--event 'B1': the run has no brown-out
  try: --at TIME
)");
}

TEST_CASE("a zoom looks into one run") {
  CHECK(answer("--event 1 --seeds 1..3", "snow-stake") == R"(
overwinter zoom: these are 3 runs, and it looks into one
  try: one weather file, one seed, one year
)");
}
