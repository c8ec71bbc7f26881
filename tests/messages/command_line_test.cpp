// What people read when the command line is wrong, to the letter.
#include <doctest/doctest.h>

#include <string>

#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

const std::string peat_bog = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.yaml";

/// What a command line is answered with; every one of these is refused, with nothing on standard output.
std::string answer(const std::string& arguments) {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says(arguments, scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("commands that are not there") {
  CHECK(answer("") == R"(
overwinter: no command is given
  try: overwinter run FILE, or overwinter --help
)");
  CHECK(answer("rnu peat-bog.yaml") == R"(
overwinter: there is no command 'rnu'
  try: run
)");
  CHECK(answer("simulate") == R"(
overwinter: there is no command 'simulate'
  try: one of check, run, why, zoom, revive, explain, schema
)");
  CHECK(answer("peat-bog.yaml") == R"(
overwinter: there is no command 'peat-bog.yaml'
  try: overwinter run peat-bog.yaml
)");
}

TEST_CASE("options that are not there") {
  CHECK(answer("run peat-bog.yaml --wether moor.epw") == R"(
overwinter run: there is no option '--wether'
  try: --weather
)");
  CHECK(answer("run --wether=moor.epw") == R"(
overwinter run: there is no option '--wether'
  try: --weather
)");
  CHECK(answer("run peat-bog.yaml -weather moor.epw") == R"(
overwinter run: there is no option '-weather'
  try: --weather
)");
  CHECK(answer("check peat-bog.yaml --weather moor.epw") == R"(
overwinter check: there is no option '--weather'
  try: overwinter run, which has it
)");
  CHECK(answer("schema --xyz") == R"(
overwinter schema: there is no option '--xyz'
  try: one of --help
)");
}

TEST_CASE("arguments that are missing, too many or twice") {
  CHECK(answer("run") == R"(
overwinter run: the scenario file is missing
  try: overwinter run scenarios/peat-bog.yaml
)");
  CHECK(answer("check a.yaml b.yaml") == R"(
overwinter check: 'b.yaml' is one argument too many
  try: overwinter check FILE; a value with a blank needs quotes
)");
  CHECK(answer("run a.yaml --every 10 min") == R"(
overwinter run: 'min' is one argument too many
  try: overwinter run FILE; a value with a blank needs quotes
)");
  CHECK(answer("run a.yaml --weather") == R"(
overwinter run: --weather needs a value
  try: --weather FILE
)");
  CHECK(answer("run a.yaml --out a --out b") == R"(
overwinter run: --out is given twice
  try: keep one of the two
)");
  CHECK(answer("run a.yaml --json=5") == R"(
overwinter run: --json takes no value
  try: --json
)");
}

TEST_CASE("names that are empty, as from a variable that is not set") {
  CHECK(answer("run \"\"") == R"(
FILE: the name of the scenario file is empty
  try: scenarios/peat-bog.yaml
)");
  CHECK(answer("run " + peat_bog + " --weather \"\"") == R"(
--weather: the name of the weather file is empty
  try: --weather FILE
)");
  CHECK(answer("run " + peat_bog + " --out \"\"") == R"(
--out: the name of the folder for the results is empty
  try: --out FOLDER
)");
  CHECK(answer("explain \"\"") == R"(
MODEL: the name of the model or part class is empty
  try: `overwinter explain` without a name lists them
)");
}

TEST_CASE("values of options") {
  CHECK(answer("run " + peat_bog + " --tolerance 5") == R"(
--tolerance '5': --tolerance must be from 1e-12 to 0.01
  try: --tolerance 1e-8
)");
  CHECK(answer("run " + peat_bog + " --tolerance nan") == R"(
--tolerance 'nan': --tolerance must be a finite number, not 'nan'
  try: --tolerance 1e-8
)");
  CHECK(answer("run " + peat_bog + " --every 10") == R"(
--every '10': no unit after 10; --every is given in min
  try: --every "10 min"
)");
  CHECK(answer("run " + peat_bog + " --every \"0 s\"") == R"(
--every '0 s': --every must be from 1 s to 366 d
  try: --every "10 min"
)");
  CHECK(answer("run " + peat_bog + " --stepper referense") == R"(
--stepper 'referense': there is no such stepper
  try: --stepper reference
)");
  CHECK(answer("run " + peat_bog + " --solver dence") == R"(
--solver 'dence': there is no such solver
  try: --solver dense
)");
  CHECK(answer("run " + peat_bog + " --solver \"\"") == R"(
--solver '': there is no such solver
  try: --solver compiled, or --solver dense
)");
  CHECK(answer("explain bost") == R"(
there is no model or part class 'bost'
  try: boost
)");
}

TEST_CASE("run, why, zoom and revive take the same options of the engine") {
  for (const std::string command : {"run ", "why ", "zoom --event B1 ", "revive "}) {
    const std::string both = command + peat_bog + " --no-zoom --every-start --tolerance 1e-6 --solver dense";
    CHECK(answer(both + " --stepper referense") == R"(
--stepper 'referense': there is no such stepper
  try: --stepper reference
)");
    CHECK(answer(command + peat_bog + " --tolerance 5") == R"(
--tolerance '5': --tolerance must be from 1e-12 to 0.01
  try: --tolerance 1e-8
)");
  }
}

TEST_CASE("help and version are no faults") {
  const test::Scratch scratch;
  for (const std::string arguments : {"--help", "run --help", "--version"}) {
    const test::Said said = test::overwinter_says(arguments, scratch);
    CHECK(said.code == 0);
    CHECK(said.says("overwinter"));
    CHECK(said.err.empty());
  }
}
