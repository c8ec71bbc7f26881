#include "sim/zoom/zoom_page.hpp"

#include <doctest/doctest.h>

#include <regex>
#include <stdexcept>

#include "tests/sim/zoom/support/invented_start.hpp"

using namespace overwinter;

namespace {

bool has(const std::string& page, const std::string& text) { return page.find(text) != std::string::npos; }

/// The page up to the chart library.
std::string own_part(const std::string& page) { return page.substr(0, page.find("drawn by dygraphs")); }

std::string words_of(const std::string& page) { return std::regex_replace(own_part(page), std::regex("<[^>]*>"), " "); }

}  // namespace

TEST_CASE("one file, the same bytes each time, and nothing that a browser would fetch") {
  const Waveforms w = test::invented_start();
  const std::string page = zoom_html(w);
  CHECK(page == zoom_html(w));
  CHECK(has(page, "default-src 'none'"));
  CHECK_FALSE(std::regex_search(own_part(page), std::regex("(src|href|url)\\s*[=(]")));
  CHECK(has(page, "Dygraph"));
  CHECK(has(page, "Lithium cells burn"));
}

TEST_CASE("what a scenario says cannot become markup") {
  Waveforms w = test::invented_start();
  w.signals[0].name = "<b>\"";
  w.signals[0].meaning = "</script>";
  w.marks[0].event = "<i>";
  w.thresholds[0].label = "<u>";
  const std::string page = own_part(zoom_html(w));
  for (const char* text : {"<first>", "<b>", "<i>", "<u>", "title=\"</script>"}) {
    CAPTURE(text);
    CHECK_FALSE(has(page, text));
  }
  CHECK(has(page, "invented logger &lt;first&gt; winter"));
}

TEST_CASE("moment, window, events and every signal stand there in words") {
  Waveforms w = test::invented_start();
  w.utc_offset = 3600 * ticks_per_second;
  const std::string words = std::regex_replace(words_of(zoom_html(w)), std::regex("\\s+"), " ");
  for (const char* text :
       {"event 3: switch, on.", "2024-10-15T02:00:00.000000000Z", "UTC+01:00 2024-10-15 03:00:00", "-1 ms to +2 ms",
        "+12.5 \u00B5s Show network collapse net rail went from 5.000 V to 2.500 V",
        "net.cell+ 3.7 V 3.65 V 0 s 3.7 V -1 ms 3.69 V against ground", "boost.regime off on what the part does",
        "line.radio-on 0 0 -1 ms 1 +2 ms 1 logic level", "lockout 2.75 V"}) {
    CAPTURE(text);
    CHECK(has(words, text));
  }
}

TEST_CASE("what holds still is not drawn, but can be, or is told in the table") {
  Waveforms w = test::invented_start();
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    w.values[row * w.signals.size() + 1] = 5;
    w.values[row * w.signals.size() + 4] = 0.5;
  }
  const std::string page = own_part(zoom_html(w));
  CHECK(has(page, "1 that holds still"));
  CHECK(has(page, "nothing moves in the window: \u201COther quantities, %\u201D"));
  CHECK_FALSE(has(page, "figcaption id=\"pane-4"));
  CHECK(has(words_of(page), "boost.efficiency"));
}

TEST_CASE("without events there is no pane of them; of many the table shows the first") {
  Waveforms w = test::invented_start();
  w.marks.resize(1);
  const Mark mark = w.marks.front();
  w.marks.clear();
  CHECK_FALSE(has(own_part(zoom_html(w)), "class=\"pane marks\""));
  w.marks.assign(512, mark);
  const std::string page = own_part(zoom_html(w));
  CHECK(has(page, "12 more stand in events.csv"));
  CHECK(has(page, ">500<"));
  CHECK_FALSE(has(page, ">501<"));
}

TEST_CASE("unsound waveforms give no page") {
  Waveforms w = test::invented_start();
  w.times.pop_back();
  CHECK_THROWS_AS(zoom_html(w), std::invalid_argument);
}
