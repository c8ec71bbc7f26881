#include "sim/mechanisms/mechanism_log.hpp"

#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::cause_id;
using test::Edits;
using test::Json;
using test::seen;

TEST_CASE("cause id: an empty cell was emptied by what took most of it") {
  const Json s = test::summary_of(
      "leakage-budget",
      {{"charge: 60 %", "charge: 6 %"},
       {"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, lockout: 3.0 V, lockout_hysteresis: 600 mV"},
       {"to: 2025-01-10", "to: 2025-01-14"}});
  REQUIRE(s.at("brownouts").at("count").get<int>() >= 1);
  CHECK(s.at("brownouts").at("events")[0].at("cause") == "boost: lockout");
  CHECK(cause_id(s) == "leakage-budget");
}

TEST_CASE("cause id: what nothing explains is a finding") {
  // The cell itself, nearly empty and without a lead, falls below the lockout in the burst.
  const Json s = test::summary_of("lockout-hiccup-not", {{"charge: 30 %", "charge: 6 %"}, {"0.7 ohm", "0.01 ohm"}});
  CHECK(cause_id(s) == "unexplained");
  CHECK(s.at("brownouts").at("by_cause_id") == Json{{"unexplained", 1}});
  bool found = false;
  for (const Json& f : s.at("findings")) {
    if (f.at("rule") != "brownout-unexplained") continue;
    found = true;
    CHECK(f.at("parts") == Json{"boost"});
    CHECK(f.at("text").get<std::string>().find("1 brown-out fits none") != std::string::npos);
  }
  CHECK(found);
}

TEST_CASE("cause id: a fault's way to the brown-out has a mechanism, or else the fault is all there is to tell") {
  const auto with = [](const std::string& name, const std::string& fault) {
    return test::summary_of(name, {{"policy:", "faults:\n  - {" + fault + ", at: 2025-01-10 00:00}\npolicy:"}});
  };
  const Json aged = with("constant-power-collapse-not", "part: cell, fault: aged, by: 10 %, times: 6");
  CHECK(aged.at("brownouts").at("events")[0].at("cause") == "fault: cell aged");
  CHECK(cause_id(aged) == "constant-power-collapse");
  const Json off = with("protector-trip-not", "part: switch, fault: stuck-off");
  CHECK(cause_id(off) == "fault");
  CHECK(cause_id(with("flag-not-cleared-not", "part: clock, fault: stopped")) == "fault");
  CHECK(cause_id(with("flag-not-cleared-not", "part: clock, fault: stuck-low")) == "fault");
  for (const Json& f : off.at("findings")) CHECK(f.at("rule") != "brownout-unexplained");
}

TEST_CASE("mechanisms stand in the table's order, and in the event list once a spell of days") {
  const test::WorkingFolder folder;
  ReplayOptions options;
  options.out = folder.path("run");
  const Json s =
      replay(read_scenario(folder.write("edited.yaml", test::shipped("mechanisms/weak-light.yaml", Edits{}))), options)
          .summary;
  REQUIRE(s.at("mechanisms").size() == 2);
  CHECK(s.at("mechanisms")[0].at("id") == "weak-light");
  CHECK(s.at("mechanisms")[0].at("count") == 3);
  CHECK(s.at("mechanisms")[1].at("id") == "panel-below-rating");
  const std::string events = folder.read("run/events.csv");
  const std::string row = "charger,mechanism weak-light,";
  const std::size_t first = events.find(row);
  REQUIRE(first != std::string::npos);
  CHECK(events.find(row, first + 1) == std::string::npos);
}

TEST_CASE("a book keeps one record of each mechanism and part, with the first one's words") {
  MechanismBook book;
  const auto words = [](const char* text) { return [text] { return MechanismBook::Words{text, {{"x_V", 1}}}; }; };
  book.file("reset-loop", "b", 10, words("one"));
  book.file("constant-power-collapse", "c", 20, words("two"));
  book.file("reset-loop", "a", 30, words("three"));
  book.file("reset-loop", "b", 40, words("four"));
  const auto all = book.all();
  REQUIRE(all.size() == 3);
  CHECK(all[0]->part == "c");
  CHECK(all[1]->part == "a");
  CHECK(all[2]->part == "b");
  CHECK(all[2]->count == 2);
  CHECK(all[2]->first == 10);
  CHECK(all[2]->last == 40);
  CHECK(all[2]->text == "one");
  CHECK(book.news().size() == 4);
  CHECK(book.news().empty());
  CHECK(book.find("reset-loop", "c") == nullptr);
}
