#include "sim/report/ledger.hpp"

#include <doctest/doctest.h>

#include "tests/sim/report/support/invented_season.hpp"

using namespace overwinter;

namespace {

/// The row of that name, as it stands in the page.
std::string row(const std::string& html, const std::string& name) {
  const std::size_t at = html.find("<th scope=\"row\">" + name + "</th>");
  return at == std::string::npos ? "no row" : html.substr(at, html.find("</tr>", at) - at);
}

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("the ledger tells every energy with its share, and the bar is as long as the share says") {
  const std::string html = ledger_section(test::season_summary()).code;
  const std::string cold = row(html, "refused: too cold");  // 171 116.3 of 777 222.7 J: 22.016 %
  CHECK(holds(cold, ">171.12 kJ<"));
  CHECK(holds(cold, ">22.0 %<"));
  CHECK(holds(cold, "width:22.02%"));
  const std::string sent = row(html, "to transmitter");  // 130 000 of 164 542.8 + 7 808.7 J: 75.427 %
  CHECK(holds(sent, ">75.4 %<"));
  CHECK(holds(row(html, "In: drawn from the stores"), ">7.81 kJ<"));
  CHECK(holds(row(html, "in diode: leakage"), ">6.9 uJ<"));
  CHECK(holds(row(html, "in cell: parameter drift"), "width:0.00%"));
  CHECK(holds(row(html, "Ledger"), "-4.8e-15"));
  CHECK(holds(row(html, "Independent"), "1.3e-10"));
  CHECK(holds(row(html, "in cell: parameter drift"), ">0.0 %<"));  // -0.1 J
  CHECK_FALSE(holds(html, "-0.0"));
  CHECK(row(html, "refused: too hot") == "no row");
}

TEST_CASE("the largest part comes first, and its causes stay together") {
  const std::string html = ledger_section(test::season_summary()).code;
  CHECK(html.find("refused: complete") < html.find("refused: too cold"));
  CHECK(html.find("in charger: pass") < html.find("in charger: supply"));
  CHECK(html.find("in charger: supply") < html.find("in cell: self discharge"));
  CHECK(html.find("in cell: parameter drift") < html.find("in diode: conduction"));
}

TEST_CASE("a store that gained is on the way out, and shares are of all that came in") {
  const std::string html =
      ledger_section({{"energy", {{"harvested_J", 200.0}, {"delivered_J", 150.0}, {"stored_change_J", 50.0}}}}).code;
  CHECK(holds(row(html, "Out: added to the stores"), ">50.0 J<"));
  CHECK(holds(row(html, "Out: added to the stores"), ">25.0 %<"));
  CHECK(row(html, "In: drawn from the stores") == "no row");
  CHECK(holds(row(html, "Out: lost"), "not known"));
  CHECK(row(html, "Refused") == "no row");
}

TEST_CASE("no energy, no ledger") {
  CHECK(ledger_section(Facts()).code.empty());
  CHECK(ledger_section({{"energy", nullptr}}).code.empty());
  CHECK(holds(ledger_section({{"energy", {{"losses_J", 3}, {"refused_J", {{"too cold", nullptr}}}}}}).code, "<table>"));
}
