#include "sim/report/report.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <regex>
#include <vector>

#include "tests/sim/report/support/invented_season.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++n;
  return n;
}

std::string without(std::string text, const std::string& from, const std::string& to) {
  for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at)) {
    const std::size_t end = text.find(to, at + from.size());
    REQUIRE(end != std::string::npos);
    text.erase(at, end + to.size() - at);
  }
  return text;
}

/// Every value below, for a test to replace.
void collect(Json& j, std::vector<Json*>& all) {
  all.push_back(&j);
  if (!j.is_structured()) return;
  for (auto& child : j) collect(child, all);
}

/// Each tag that needs an end has one, in the right order; scripts, styles and comments apart.
bool well_nested(std::string html) {
  html = without(html, "<!--", "-->");
  html = std::regex_replace(html, std::regex("<(meta|br)[^>]*>|<!DOCTYPE html>"), "");
  std::vector<std::string> open;
  const std::regex tag("<(/?)([a-z][a-z0-9]*)[^>]*>");
  for (std::size_t at = html.find('<'); at != std::string::npos; at = html.find('<', at)) {
    std::smatch m;
    const std::string here = html.substr(at, 400);
    if (!std::regex_search(here, m, tag, std::regex_constants::match_continuous)) return false;
    const std::string name = m[2];
    at += static_cast<std::size_t>(m.length(0));
    if (m[1].length() == 0) {
      open.push_back(name);
      if (name == "script" || name == "style") at = html.find("</" + name, at);
    } else {
      if (open.empty() || open.back() != name) return false;
      open.pop_back();
    }
  }
  return open.empty();
}

}  // namespace

TEST_CASE("the verdict's sentence comes first, tables before charts, and the page is one well-formed document") {
  const std::string html = report_html(test::season_summary(), test::season_series());
  const std::size_t verdict = html.find("The instrument does not survive: longest gap 38 h, at most 24 h allowed.");
  REQUIRE(verdict != std::string::npos);
  CHECK(html.compare(0, 15, "<!DOCTYPE html>") == 0);
  CHECK(html.find("<h1>invented logger, first winter</h1>") < verdict);
  CHECK(verdict < html.find("<table>"));
  std::size_t before = verdict;
  for (const char* id : {"requirements", "service", "brownouts", "margins", "charts", "ledger", "cell", "remarks",
                         "cautions", "making"}) {
    CAPTURE(id);
    const std::size_t at = html.find("<section id=\"" + std::string(id) + "\">");
    REQUIRE(at != std::string::npos);
    CHECK(at > before);
    before = at;
  }
  CHECK(well_nested(html));
}

TEST_CASE("nothing in the page asks for another file or the network") {
  const std::string html = report_html(test::season_summary(), test::season_series());
  std::string code = without(without(html, "<!--", "-->"), "/*!", "*/");
  CHECK_FALSE(holds(code, "http://"));
  CHECK_FALSE(holds(code, "https://"));
  CHECK_FALSE(holds(html, "sourceMappingURL"));
  code = without(without(code, "<script>", "</script>"), "<style>", "</style>");
  CHECK_FALSE(std::regex_search(code, std::regex("\\ssrc\\s*=|\\shref\\s*=\\s*\"(?!#)|<link|<iframe|<object|<img")));
  CHECK_FALSE(holds(html, "@import"));
  CHECK_FALSE(holds(html, "url("));
  CHECK(holds(html, "default-src 'none'"));
}

TEST_CASE("the chart library travels with its licence") {
  const std::string html = report_html(test::season_summary(), test::season_series());
  const std::size_t notice = html.find("Permission is hereby granted, free of charge");
  REQUIRE(notice != std::string::npos);
  const std::size_t comment = html.rfind("<!--", notice);
  REQUIRE(comment != std::string::npos);
  CHECK(html.find("-->", comment) > notice);
  CHECK(holds(html, "/*! @license"));
}

TEST_CASE("what a user wrote stays text, wherever it stands") {
  const std::string attack = "</script><script>alert(1)</script>{{style}}<!--\" onload='x'";
  const std::string clean = report_html(test::season_summary(), test::season_series());
  std::vector<Json*> all;
  Json s = test::season_summary();
  collect(s, all);
  std::size_t replaced = 0;
  for (Json* j : all) {
    if (j->is_string()) *j = attack, ++replaced;
  }
  s["energy"]["refused_J"][attack] = 1.0;
  s["energy"]["losses_J"][attack][attack] = 1.0;
  s["brownouts"]["by_cause"][attack] = 1;
  s["inputs_sha256"][attack] = attack;
  const std::string html = report_html(s, test::season_series());
  REQUIRE(replaced > 40);
  CHECK(count(html, "&lt;script&gt;alert(1)&lt;/script&gt;{{style}}") >= 40);
  CHECK_FALSE(holds(html, "<script>alert"));
  CHECK_FALSE(holds(html, "onload='"));
  CHECK(count(html, "<script") == count(clean, "<script"));
  CHECK(count(html, "</script") == count(clean, "</script"));
  CHECK(count(html, "<!--") == count(clean, "<!--"));
  CHECK(well_nested(html));
}

TEST_CASE("any fact may be null or of another kind") {
  const Json whole = test::season_summary();
  Json counted = whole;
  std::vector<Json*> all;
  collect(counted, all);
  const ReportSeries none;
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (const Json& other : {Json(), Json(7), Json("text"), Json::array({1}), Json({{"x", 1}})}) {
      Json s = whole;
      std::vector<Json*> places;
      collect(s, places);
      *places[i] = other;
      CAPTURE(i);
      REQUIRE_NOTHROW(report_html(s, none));
    }
  }
}

TEST_CASE("a run without a controller has no verdict and no service, and its charts all the same") {
  Json s = test::season_summary();
  for (const char* key : {"verdict", "requirements", "service", "brownouts"}) s.erase(key);
  ReportSeries series = test::season_series();
  series.wakes.clear();
  series.brownouts.clear();
  const std::string html = report_html(s, series);
  for (const char* id : {"requirements", "service", "brownouts"})
    CHECK_FALSE(holds(html, "<section id=\"" + std::string(id) + "\">"));
  CHECK_FALSE(holds(html, "class=\"verdict"));
  CHECK_FALSE(holds(html, "id=\"wakes-plot\""));
  CHECK(holds(html, "id=\"voltage-plot\""));
  CHECK(well_nested(html));
}

TEST_CASE("empty series leave the charts and their library out; cautions are always there") {
  const std::string html = report_html(test::season_summary(), {});
  CHECK_FALSE(holds(html, "<script"));
  CHECK(holds(html, "The instrument does not survive"));
  const std::string bare = report_html(Json(), {});
  CHECK(holds(bare, "Lithium cells burn."));
  CHECK(holds(bare, "Never charge a lithium cell below 0 °C."));
  CHECK(well_nested(bare));
}

TEST_CASE("the page names the clock its times follow") {
  ReportSeries s = test::season_series();
  CHECK(holds(report_html(test::season_summary(), s), "All times are UTC, which is the site&#39;s standard time"));
  s.utc_offset = -3 * 3600 * ticks_per_second;
  const std::string html = report_html(test::season_summary(), s);
  CHECK(holds(html, "All times are the site&#39;s standard time, UTC-03:00"));
  CHECK(holds(html, "2025-01-12 03:00:00"));
}

TEST_CASE("a season of ten-minute samples stays below two megabytes, and the same run gives the same bytes") {
  const ReportSeries s = test::season_series();
  REQUIRE(s.time.size() > 24'000);
  const std::string html = report_html(test::season_summary(), s);
  CHECK(html.size() < 2'000'000);
  CHECK(html == report_html(test::season_summary(), s));
}
