#include "sim/zoom/zoom_files.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <stdexcept>

#include "sim/zoom/vcd.hpp"
#include "tests/sim/zoom/support/invented_start.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

using Names = std::vector<std::string>;

Names written(const test::Scratch& scratch, const ZoomForms& forms) {
  RunFolder folder(scratch.path("start-zoom"));
  const Names names = write_zoom(test::invented_start(), forms, folder);
  folder.publish();
  const std::filesystem::directory_iterator files(scratch.path("start-zoom"));
  CHECK(static_cast<std::size_t>(std::distance(begin(files), end(files))) == names.size());
  for (const std::string& name : names) CHECK_FALSE(scratch.read("start-zoom/" + name).empty());
  return names;
}

}  // namespace

TEST_CASE("the forms that are asked for, each time in place of the former ones") {
  const test::Scratch scratch;
  CHECK(written(scratch, {}) == Names{"waveforms.html", "waveforms.csv", "waveforms.vcd", "events.csv"});
  CHECK(scratch.read("start-zoom/waveforms.vcd") == vcd_text(test::invented_start(), "waveforms.vcd"));
  CHECK(written(scratch, {false, true, false}) == Names{"waveforms.vcd"});
  CHECK(written(scratch, {true, false, false}) == Names{"waveforms.csv", "events.csv"});
  CHECK(written(scratch, {false, false, true}) == Names{"waveforms.html", "events.csv"});
}

TEST_CASE("unsound waveforms leave what was there") {
  const test::Scratch scratch;
  written(scratch, {});
  Waveforms w = test::invented_start();
  w.times.pop_back();
  {
    const RunFolder folder(scratch.path("start-zoom"));
    CHECK_THROWS_AS(write_zoom(w, {}, folder), std::invalid_argument);
  }
  CHECK_FALSE(scratch.read("start-zoom/waveforms.html").empty());
}
