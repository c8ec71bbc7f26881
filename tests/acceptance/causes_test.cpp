// Causes that agree with the cures: each sentence was told wrong once, by a scenario of scenarios/causes or another
// that is named here; its pair shows the other side.
#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "sim/replay/replay.hpp"
#include "sim/zoom/zoom.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

std::string file_of(const std::string& name) { return std::string(OVERWINTER_SOURCE) + "/scenarios/" + name + ".yaml"; }

Json summary_of(const std::string& name) {
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  return replay(read_scenario(file_of(name)), options).summary;
}

const Json& first(const Json& summary) { return summary.at("brownouts").at("events").at(0); }

bool has_finding(const Json& summary, const std::string& rule) {
  const Json& all = summary.at("findings");
  return std::any_of(all.begin(), all.end(), [&](const Json& f) { return f.at("rule") == rule; });
}

}  // namespace

TEST_CASE("a converter that is switched off crosses nothing") {
  const Json sound = summary_of("causes/switched-off");
  CHECK(sound.at("verdict").at("survives") == true);  // with a thinnest_margin of 200 mV
  for (const Json& m : sound.at("margins").at("all")) CHECK(m.at("crossed") == false);
  bool watched = false;  // while it works it has its margin
  for (const Json& m : sound.at("margins").at("all")) {
    watched = watched || (m.at("part") == "boost" && m.at("margin_V").is_number());
  }
  CHECK(watched);
  const Json burst = summary_of("causes/switched-off-not");
  CHECK(burst.at("margins").at("thinnest").at("crossed") == true);
  CHECK(burst.at("margins").at("thinnest").at("part") == "boost");
  CHECK(first(burst).at("cause") == "boost: lockout");
}

TEST_CASE("a power-off is not what the next brown-out begins with") {
  const Json s = summary_of("causes/switched-off-clock");
  CHECK(s.at("brownouts").at("count") == 1);
  CHECK(first(s).at("cause") == "clock: clock stops");
  CHECK(first(s).at("cause_id") == "clock-backup-lost");
  CHECK(first(s).at("chain").size() == 1);
  CHECK_FALSE(has_finding(s, "brownout-unexplained"));
  CHECK(summary_of("causes/switched-off-clock-not").at("brownouts").at("count") == 0);
}

TEST_CASE("a limit that is reached in an inrush is a link of the inrush, and no larger cell is advised") {
  const Json s = summary_of("causes/limit-in-inrush");
  REQUIRE(s.at("brownouts").at("count").get<int>() >= 1);
  CHECK(first(s).at("cause") == "boost: current limit");
  for (const auto& [id, n] : s.at("brownouts").at("by_cause_id").items()) CHECK(id == "inrush");
  CHECK_FALSE(has_finding(s, "brownout-unexplained"));
  CHECK(summary_of("causes/limit-in-inrush-not").at("brownouts").at("count") == 0);
}

TEST_CASE("a brown-out has one time, and its cause another where that came before: run and zoom tell both alike") {
  const Json s = summary_of("outcomes/failed-starts");
  const std::string time = first(s).at("time"), since = first(s).at("cause_time");
  CHECK(time.substr(0, 16) == "2025-01-23T00:10");
  CHECK(since.substr(0, 16) == "2025-01-23T00:00");
  const test::Replayed run(file_of("outcomes/failed-starts"));
  const Waveforms w = zoom(run.scenario, run.weather, run.diagram, {}, {NumberedEvent{true, 1}}).waveforms;
  CHECK(iso_time(w.moment, 9) == since);
  CHECK(w.occasion.rfind("brown-out B1 (" + time + "): guard, over-discharge trip", 0) == 0);
}

TEST_CASE("the zoom into a brown-out shows it, also where the fast stores put it off by milliseconds") {
  const test::Replayed run(file_of("mechanisms/path-drop"));
  const auto shown = [](const Waveforms& w) {
    return std::any_of(w.marks.begin(), w.marks.end(),
                       [](const Mark& m) { return m.part == "logger" && m.event == "brown-out"; });
  };
  const Waveforms w = zoom(run.scenario, run.weather, run.diagram, {}, {NumberedEvent{true, 1}}).waveforms;
  CHECK(shown(w));
  CHECK(w.times.back() - w.moment >= usual_after - 1);
  CHECK(w.occasion.find("does not come") == std::string::npos);
}
