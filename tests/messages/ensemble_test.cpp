// What people read when they ask for an ensemble that cannot be, to the letter.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <filesystem>
#include <string>

#include "tests/support/bench_scenario.hpp"
#include "tests/support/program.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

/// A folder with a scenario of each kind of weather: measured.yaml (a CSV record of 2009 and 2010), moor.yaml
/// (typical year), synthetic.yaml.
class Folder : public test::WorkingFolder {
 public:
  Folder() {
    const std::string text = test::cell_and("{model: load, kind: current, current: 1 mA}", "3.5 3.5", "100");
    const auto with = [&](const std::string& weather) {
      std::string changed = text;
      changed.replace(changed.find("{file: still.epw}"), 17, weather);
      return changed + "site: {latitude: 50 deg, longitude: 0 deg, elevation: 0 m, utc_offset: 0 h}\n";
    };
    std::filesystem::create_directory("fen");
    for (const char* name : {"moor.epw", "fen/moor.epw"}) write_weather(name, [](int) { return 0.0; });
    write("moor.yaml", with("{file: moor.epw}"));
    std::filesystem::copy_file(OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml", "climate.yaml");
    write("synthetic.yaml", with("{synthetic: climate.yaml}"));
    write("measured.yaml", with("{file: mast.csv, time: {column: time, stamp: begin}, global_horizontal: {column: "
                                "light, unit: W/m2}, air_temperature: {column: air, unit: degC}}"));
    std::string record = "time,light,air\n";
    for (const int year : {2009, 2010}) {
      for (int day = 1; day <= 2; ++day) {
        for (int h = 0; h < 24; ++h) record += fmt::format("{}-03-{:02} {:02}:00,0,5\n", year, day, h);
      }
    }
    write("mast.csv", record);
  }

  /// What a command line is answered with; refused, with nothing on standard output and nothing written.
  std::string answer(const std::string& arguments) const {
    const test::Said said = test::overwinter_says(arguments, *this);
    CHECK(said.code == 2);
    CHECK(said.out.empty());
    CHECK_FALSE(std::filesystem::exists("out"));
    return "\n" + said.err;
  }
};

}  // namespace

TEST_CASE("ensembles: lists that are none") {
  const Folder folder;
  CHECK(folder.answer("run synthetic.yaml --seeds 5..1") == R"(
--seeds '5..1': the range 5..1 runs backwards
  try: --seeds 1..5
)");
  CHECK(folder.answer("run synthetic.yaml --seeds 1,x") == R"(
--seeds '1,x': 'x' is neither a whole number nor a range
  try: --seeds 1..10, or 1,2
)");
  CHECK(folder.answer("run synthetic.yaml --seeds 3,1..3") == R"(
--seeds '3,1..3': 3 is given twice
  try: each number once
)");
  CHECK(folder.answer("run synthetic.yaml --seeds=-1") == R"(
--seeds '-1': '-1' is neither a whole number nor a range
  try: --seeds 1..10, or 1,2
)");
  CHECK(folder.answer("run synthetic.yaml --seeds 1..1000000") == R"(
--seeds '1..1000000': these are more than 100000 members
  try: a shorter range
)");
  CHECK(folder.answer("run synthetic.yaml --seeds 1..1000 --years 1800..1999") == R"(
overwinter run: these are 200000 members, more than 100000
  try: fewer seeds, years or files
)");
  CHECK(folder.answer("run measured.yaml --years 209") == R"(
--years '209': 209 is out of range
  try: numbers from 1700 to 2261
)");
  CHECK(folder.answer("run synthetic.yaml --seeds \"\"") == R"(
--seeds: the value is empty
  try: --seeds 1..50
)");
  CHECK(folder.answer("run synthetic.yaml --years") == R"(
overwinter run: --years needs a value
  try: --years LIST
)");
}

TEST_CASE("ensembles: seeds and years that change nothing") {
  const Folder folder;
  for (const std::string seeds : {"1..5", "7"}) {
    CHECK(folder.answer("run moor.yaml --seeds " + seeds) == R"(
--seeds: the scenario's weather is a file, not synthetic: no seed changes it
  try: weather: {synthetic: CLIMATE.yaml} in the scenario, or --weather with several files
)");
  }
  CHECK(folder.answer("run synthetic.yaml --weather moor.epw --seeds 1..5") == R"(
--seeds: a seed means nothing to a weather file, and --weather gives one
  try: --seeds without --weather, or --weather without --seeds
)");
  for (const std::string years : {"2009..2012", "2009"}) {
    CHECK(folder.answer("run moor.yaml --years " + years) == R"(
--years: the weather of moor.epw is one year that is laid onto any other: every member would be the same
  try: --weather with several files, or a scenario with a CSV record or synthetic weather
)");
  }
  CHECK(folder.answer("run measured.yaml --weather moor.epw --years 2009,2010") == R"(
--years: the weather of moor.epw is one year that is laid onto any other: every member would be the same
  try: --weather with several files, or a scenario with a CSV record or synthetic weather
)");
}

TEST_CASE("ensembles: a year that the record does not cover") {
  const Folder folder;
  CHECK(folder.answer("run measured.yaml --years 2009..2011") == R"(
mast.csv:97:1: the rows cover 2009-03-01 00:00 to 2010-03-03 00:00, not the whole span, 2011-03-01 to 2011-03-02
    2010-03-02 23:00,0,5
    ^^^^^^^^^^^^^^^^
  try: leave that year out, or give a file of the span's days
)");
}

TEST_CASE("ensembles: weather files given twice") {
  const Folder folder;
  CHECK(folder.answer("run moor.yaml --weather moor.epw moor.epw") == R"(
--weather: 'moor.epw' is given twice
  try: name each weather file once
)");
  CHECK(folder.answer("run moor.yaml --weather moor.epw fen/../moor.epw") == R"(
--weather: 'fen/../moor.epw' and 'moor.epw' are the same file
  try: name each weather file once
)");
  const test::Said said = test::overwinter_says("run moor.yaml --weather moor.epw fen/moor.epw --out both", folder);
  CHECK(said.code == 0);
  CHECK(std::filesystem::exists("both/members/fen-moor.json"));
  // The scenario is told from the files also behind them.
  CHECK(test::overwinter_says("run --weather moor.epw fen/moor.epw moor.yaml --out both", folder).code == 0);
  CHECK(test::overwinter_says("run --weather moor.epw moor.yaml --out one", folder).code == 0);
  CHECK(std::filesystem::exists("one/report.html"));
}

TEST_CASE("ensembles: workers") {
  const Folder folder;
  for (const std::string jobs : {"0", "two", "2.5", "100000"}) {
    CHECK(folder.answer("run synthetic.yaml --seeds 1..3 --jobs " + jobs) ==
          "\n--jobs '" + jobs +
              R"(': the number of workers must be from 1 to 1024
  try: --jobs 2, or nothing for as many as there are processors
)");
  }
  CHECK(folder.answer("run synthetic.yaml --seeds 1..3 --jobs \"\"") == R"(
--jobs: the value is empty
  try: --jobs 2
)");
}

TEST_CASE("synthetic weather that a scenario describes wrongly") {
  const Folder folder;
  const auto fault = [&](const std::string& weather) {
    folder.write("wrong.yaml", test::edited({{"{file: bog.epw}", weather}}));
    return folder.answer("check wrong.yaml");
  };
  CHECK(fault("{synthetic: climat.yaml}") == R"(
wrong.yaml:3:22: climate file climat.yaml does not exist
    weather: {synthetic: climat.yaml}
                         ^^^^^^^^^^^
  try: climate.yaml
)");
  CHECK(fault("{synthetic: moor.epw}") == R"(
wrong.yaml:3:22: this is a weather file, not the file of a climate
    weather: {synthetic: moor.epw}
                         ^^^^^^^^
  try: weather: {file: moor.epw}
)");
  CHECK(fault("{synthetic: , seed: 1}") == R"(
wrong.yaml:3:11: synthetic names no climate file
    weather: {synthetic: , seed: 1}
              ^^^^^^^^^
  try: synthetic: CLIMATE.yaml
)");
  CHECK(fault("{synthetic: climate.yaml, file: moor.epw}") == R"(
wrong.yaml:3:36: synthetic weather has a seed and nothing else
    weather: {synthetic: climate.yaml, file: moor.epw}
                                       ^^^^
  try: weather: {synthetic: CLIMATE.yaml, seed: 1}
)");
  CHECK(fault("{file: moor.epw, seed: 4}") == R"(
wrong.yaml:3:27: a seed belongs to synthetic weather
    weather: {file: moor.epw, seed: 4}
                              ^^^^
  try: synthetic: CLIMATE.yaml in place of file, or remove the seed
)");
  CHECK(fault("{seed: 4}") == R"(
wrong.yaml:3:11: a seed belongs to synthetic weather
    weather: {seed: 4}
              ^^^^
  try: synthetic: CLIMATE.yaml in place of file, or remove the seed
)");
  for (const std::string seed : {"-1", "1.5", "x", "1000000000"}) {
    CAPTURE(seed);
    CHECK(fault("{synthetic: climate.yaml, seed: " + seed + "}")
              .find("seed must be a whole number from 0 to 999999999\n") != std::string::npos);
  }
}
