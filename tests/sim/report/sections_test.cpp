#include "sim/report/sections.hpp"

#include <doctest/doctest.h>

#include "tests/sim/report/support/invented_season.hpp"

using namespace overwinter;

namespace {

bool holds(const Html& html, const std::string& part) { return html.code.find(part) != std::string::npos; }

const SiteClock east(3600 * ticks_per_second);

}  // namespace

TEST_CASE("verdict: sign, sentence, what a typical year leaves out, and all warnings") {
  Facts s = test::season_summary();
  CHECK(holds(verdict_section(s),
              "the cell was charged to 103.0 %: a real cell can burn; try: a lower charge_voltage</p>"));
  CHECK(holds(verdict_section(s), "site and file are 0.7 deg apart</p>"));
  CHECK(holds(verdict_section(s), "\u2717"));
  CHECK(holds(verdict_section(s), "longest gap 38 h, at most 24 h allowed."));
  CHECK(holds(verdict_section(s), "bad winters are not in it"));
  s["verdict"] = {{"survives", true}, {"text", "It does."}, {"typical_year", false}};
  CHECK(holds(verdict_section(s), "> Survives<"));
  CHECK_FALSE(holds(verdict_section(s), "bad winters"));
  s["verdict"]["survives"] = nullptr;
  CHECK(holds(verdict_section(s), "> Undecided<"));
  s.erase("service");
  s["verdict"]["survives"] = true;
  CHECK(holds(verdict_section(s), "> Held<"));
}

TEST_CASE("damage: every limit with its numbers, or none") {
  Facts s = test::season_summary();
  s["damage"] = Facts::parse(R"({"count": 728, "all": [{"part": "logger", "kind": "supply above range", "times": 728,
      "first": "2024-10-15T05:30:00.1Z", "beyond_s": 7200, "worst": 4.1, "limit": 3.6, "unit": "V"}]})");
  const Html html = damage_section(s, east);
  CHECK(holds(html, "<th scope=\"row\">logger</th><td>supply above range</td><td class=\"figures\">728</td>"));
  CHECK(holds(html, "2024-10-15 06:30:00"));
  CHECK(holds(html, ">2 h</td><td class=\"figures\">4.1 V</td><td class=\"figures\">3.6 V<"));
  s["damage"]["all"] = Facts::array();
  CHECK(holds(damage_section(s, east), "No part went beyond its absolute limits."));
}

TEST_CASE("requirements: limit, value and unit as printed, and whether they held") {
  const Html html = requirements_section(test::season_summary());
  CHECK(holds(html,
              "<th scope=\"row\">longest gap</th><td class=\"figures\">at most 24 h</td>"
              "<td class=\"figures\">38.2 h</td>"));
  CHECK(holds(html, ">at least 1<"));
  CHECK(holds(html, ">at most 0</td><td class=\"figures\">not known<"));
  CHECK(holds(html, by_default));
  CHECK(holds(html, "> no<"));
  CHECK(holds(html, "> yes<"));
  CHECK(holds(html, "> undecided<"));
}

TEST_CASE("service: counts, and times on the site's clock") {
  const Html html = service_section(test::season_summary(), east);
  CHECK(holds(html, "<th scope=\"row\">Completed</th><td class=\"figures\">1325</td>"));
  CHECK(holds(html, ">38.2 h<"));
  CHECK(holds(html, "from 2025-01-12 06:00:21 to 2025-01-13 20:12:21<"));
  CHECK(holds(html, "from 2025-01-08 03:00:00<"));
  CHECK(holds(html, ": 1.17 % of the span<"));
  Facts open = test::season_summary();
  open["service"]["longest_gap"]["open"] = true;
  open["service"]["worst_week_wakes"] = nullptr;
  CHECK(holds(service_section(open, east), "still open when the span ended"));
  CHECK(holds(service_section(open, east), ">not known<"));
}

TEST_CASE("brown-outs: by cause, and each with its chain, outcome and way into the charts") {
  const Html html = brownouts_section(test::season_summary(), east);
  CHECK(holds(html, "3 episodes: 2 recovered without help, 1 in need of a human, 0 undecided"));
  CHECK(holds(html, "<th scope=\"row\">guard: cut off</th><td class=\"figures\">2</td>"));
  CHECK(holds(html, "<th scope=\"row\">B3</th>"));
  CHECK(holds(html, "2024-12-20 05:00:00</span> controller: brown-out reset"));
  CHECK(holds(html, "data-at=\"1734670800250\""));  // 2024-12-20 05:00:00.25 read as if it were UTC
  CHECK(holds(html, "> needs human</span> since <span class=\"when\">2025-03-09 01:00:00"));
  CHECK(holds(html, "3 sunny days came and went; most of the light was refused on 2 (charger: too cold)"));
  CHECK(holds(html, "within 3 sunny days"));
  CHECK(holds(html, "month 12: 0.34"));
  CHECK(holds(html, " Longest recovery: 26 h."));
  Facts never = test::season_summary();
  never["brownouts"]["longest_recovery_s"] = nullptr;
  CHECK_FALSE(holds(brownouts_section(never, east), "Longest recovery"));
  CHECK(holds(brownouts_section({{"brownouts", {{"count", 0}}}}, east), "None in this span."));
}

TEST_CASE("reset loops stand with the brown-outs: what was stepped over, and what a restart in vain is") {
  Facts s = test::season_summary();
  const Html html = brownouts_section(s, east);
  CHECK(holds(html,
              "1.5 h in all were stepped over at mean rates; 1.30 kJ went into them, and the balance of energy is "
              "open by 100.0 mJ."));
  CHECK(holds(html, restart_in_vain));
  CHECK(holds(html, "<th scope=\"row\">boost</th><td>lockout</td><td class=\"figures\">812</td>"));
  s["brownouts"] = {{"count", 0}};
  CHECK(holds(brownouts_section(s, east), "812"));
  s["brownouts"] = nullptr;  // no controller
  CHECK(holds(brownouts_section(s, east), "<h2>Reset loops</h2>"));
  s["stepped_over"]["restarts_in_vain"] = Facts::array();
  CHECK(brownouts_section(s, east).code.empty());
}

TEST_CASE("mechanisms: a line each, and the id beside a brown-out's cause") {
  Facts s = test::season_summary();
  CHECK(mechanisms_section(s).code.empty());
  s["mechanisms"] = {{{"id", "reset-loop"}, {"count", 2}, {"counts", "loop"}, {"text", "logger started 3 < 4 times"}}};
  CHECK(holds(mechanisms_section(s), "<li>reset-loop, 2 loops: logger started 3 &lt; 4 times</li>"));
  CHECK_FALSE(holds(brownouts_section(s, east), "<small>protector-trip</small>"));
  s["brownouts"]["events"][0]["cause_id"] = "protector-trip";
  CHECK(holds(brownouts_section(s, east), "<small>protector-trip</small>"));
}

TEST_CASE("margins: thinnest first, without those never in force") {
  const Html html = margins_section(test::season_summary(), east);
  const auto at = [&](const char* name) { return html.code.find(name); };
  CHECK(at("guard: over-discharge") < at("controller: brown-out"));
  CHECK(at("controller: brown-out") < at("boost: lockout"));
  CHECK(holds(html, ">crossed<"));
  CHECK(holds(html, "worst case of a switch-on"));
  CHECK_FALSE(holds(html, "release"));
}

TEST_CASE("overview, cell, remarks and making") {
  const Facts s = test::season_summary();
  CHECK(holds(overview(s), "2024-10-15 to 2025-03-31, 168 days"));
  CHECK(holds(cell_section(s, east), "<td class=\"figures\">3.1 %</td><td><span class=\"when\">2025-01-12 06:40:00"));
  CHECK(holds(remarks_section(s), "<li>panel: label only</li>"));
  CHECK(holds(making_section(s), "c3e24de065fabf95fd005dfeb7cf2af9491106bd53caf52a2d20b1e58deb2f8e"));
  CHECK(holds(making_section(s), "2001, 2003"));
  Facts slower = s;
  slower["engine"]["wall_s"] = 99.5;
  CHECK(making_section(slower).code == making_section(s).code);
}

TEST_CASE("a chapter whose facts are missing or no object is left out") {
  for (const Facts& s : {Facts(), Facts(3), Facts::object(), Facts{{"verdict", 1}, {"service", nullptr}}}) {
    for (const Html& html : {verdict_section(s), requirements_section(s), service_section(s, east),
                             brownouts_section(s, east), damage_section(s, east), margins_section(s, east),
                             cell_section(s, east), remarks_section(s), making_section(s), overview(s)}) {
      CHECK(html.code.empty());
    }
  }
}
