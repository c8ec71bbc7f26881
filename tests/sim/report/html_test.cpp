#include "sim/report/html.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

using namespace overwinter;

TEST_CASE("no character of a text is left to act as markup") {
  CHECK(escaped("<b a=\"x\" c='y'>&amp;</b>").code == "&lt;b a=&quot;x&quot; c=&#39;y&#39;&gt;&amp;amp;&lt;/b&gt;");
  CHECK(escaped("3 °C").code == "3 °C");
}

TEST_CASE("dates in a text are kept on one line each") {
  CHECK(with_whole_dates("<at 2024-12-28 18:25, 2024-12-29>").code ==
        "&lt;at <span class=\"when\">2024-12-28 18:25</span>, <span class=\"when\">2024-12-29</span>&gt;");
  CHECK(with_whole_dates("2 - 3 of 12-28").code == "2 - 3 of 12-28");
}

TEST_CASE("a judgement is told in words and by a sign, each its own") {
  const std::string yes = judged(true).code, no = judged(false).code, open = judged(std::nullopt).code;
  CHECK(yes.find("> yes<") != std::string::npos);
  CHECK(yes.find("\u2713") != std::string::npos);
  CHECK(no.find("> no<") != std::string::npos);
  CHECK(no.find("\u2717") != std::string::npos);
  CHECK(open.find("> undecided<") != std::string::npos);
  CHECK(open.find(">?<") != std::string::npos);
}

TEST_CASE("a table has a caption and headed columns and rows, and is nothing without rows") {
  HtmlTable table("What & where", {{"Part"}, {"Energy", true}});
  CHECK(table.html().code.empty());
  table.row({escaped("cell"), escaped("3")}, "sum");
  const std::string html = table.html().code;
  CHECK(html.find("<caption>What &amp; where</caption>") != std::string::npos);
  CHECK(html.find("<th scope=\"col\" class=\"figures\">Energy</th>") != std::string::npos);
  CHECK(html.find("<tr class=\"sum\"><th scope=\"row\">cell</th><td class=\"figures\">3</td></tr>") !=
        std::string::npos);
  CHECK_THROWS_AS(table.row({escaped("cell")}), std::logic_error);
}

TEST_CASE("a chapter without a body is left out") {
  CHECK(section("a", "A", {}).code.empty());
  CHECK(section("a", "A < B", {"x"}).code == "<section id=\"a\">\n<h2>A &lt; B</h2>\nx</section>\n");
  CHECK(list_of({}).code.empty());
  CHECK(list_of({"<i>"}).code == "<ul>\n<li>&lt;i&gt;</li>\n</ul>\n");
}

TEST_CASE("a page is filled once: what a piece holds is no place to fill") {
  CHECK(filled("{{a}} and {{b}}.", {{"a", "{{b}}"}, {"b", "2"}}) == "{{b}} and 2.");
  CHECK(filled("plain", {}) == "plain");
  CHECK_THROWS_AS(filled("{{c}}", {{"a", ""}}), std::logic_error);
  CHECK_THROWS_AS(filled("{{a", {{"a", ""}}), std::logic_error);
}
