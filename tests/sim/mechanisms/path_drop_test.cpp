// Beside the pair of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::cause_id;
using test::Edits;
using test::Json;
using test::seen;

namespace {

/// path-drop.yaml with a clean plug, and a cell with that much resistance of its own.
Json with_own(const char* milliohms, const Edits& more = {}) {
  const std::string curve =
      std::string("charge: 12 %, activation_energy: 0 eV, series_resistance: {charge: 0 100 %, ") +
      "resistance: " + milliohms + " " + milliohms + " mohm}";
  Edits edits = {{"3.74 ohm", "0.01 ohm"}, {"charge: 12 %", curve}};
  edits.insert(edits.end(), more.begin(), more.end());
  return test::summary_of("path-drop", edits);
}

std::string advice(const Json& s) {
  for (const Json& f : s.at("findings")) {
    if (f.at("rule") == "brownout-unexplained") return f.at("try");
  }
  return {};
}

}  // namespace

TEST_CASE("path-drop: not what the cell itself does not bear") {
  // 5 ohm of its own at 128 mA: not even a full cell of 3.6 V keeps 2.7 V with another 120 mA.
  const Json s = with_own("5000", {{"current: 120 mA", "current: 240 mA"}});
  CHECK(seen(s, "path-drop").is_null());
  CHECK(cause_id(s) == "unexplained");  // and no charge that the cold kept out would have changed it
  CHECK(advice(s).find("larger or warmer") != std::string::npos);
}

TEST_CASE("path-drop: light that is refused after a brown-out did not cause it") {
  // The first wake, ten minutes after midnight: more charge would have helped, but none had been refused yet.
  const Json s = with_own("4000");
  REQUIRE(s.at("brownouts").at("events")[0].at("time").get<std::string>().substr(0, 16) == "2025-01-10T00:10");
  CHECK_FALSE(seen(s, "cold-charge-block").is_null());
  CHECK(cause_id(s) == "unexplained");
  CHECK(advice(s).find("a larger cell or panel") == 0);
}

TEST_CASE("path-drop: what an empty cell's lead decides on is the hour") {
  const Json s = test::summary_of(
      "leakage-budget",
      {{"charge: 60 %", "charge: 6 %"},
       {"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, lockout: 3.0 V, lockout_hysteresis: 600 mV"},
       {"to: 2025-01-10", "to: 2025-01-14"}});
  CHECK(seen(s, "path-drop").is_null());
}

TEST_CASE("path-drop: a lockout at the end of a lead") {
  const Json s = test::summary_of("lockout-hiccup-not");
  CHECK(cause_id(s) == "path-drop");
  CHECK(seen(s, "path-drop").at("part") == "boost");
  CHECK(seen(s, "path-drop").at("text").get<std::string>().find("lead") != std::string::npos);
}
