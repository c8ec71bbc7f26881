#include "sim/zoom/saved_moment.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "sim/input_error.hpp"
#include "tests/sim/zoom/support/first_start.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

struct Saved {
  test::FirstStart start;
  SavedMoment moment;
  std::string text;

  Saved() {
    Simulator run(start.bench.diagram, start.bench.weather, {});
    moment.context = run.start();
    run.advance(moment.context, start.alarm - 1'000'000);
    moment.moment = start.alarm;
    moment.until = start.alarm + 4'000'000;
    moment.occasion = "event 1: clock, alarm";
    text = saved_moment_text(moment, start.bench.scenario, start.bench.diagram);
  }
  SavedMoment read(const std::string& what) const {
    return read_saved_moment("moment.json", what, start.bench.weather, start.bench.diagram);
  }
  /// The whole message about the file with that change.
  template <class Change>
  std::string fault(Change&& change) const {
    Json json = Json::parse(text);
    change(json);
    try {
      read(json.dump());
    } catch (const InputError& e) {
      CHECK(e.faults().size() == 1);
      return std::string("\n") + e.what() + "\n";
    }
    return "accepted";
  }
};

}  // namespace

TEST_CASE("saved moment: everything that a context needs to continue comes back, bit for bit") {
  const Saved s;
  const SavedMoment back = s.read(s.text);
  const Context &a = s.moment.context, &b = back.context;
  CHECK(back.moment == s.moment.moment);
  CHECK(back.until == s.moment.until);
  CHECK(back.occasion == s.moment.occasion);
  CHECK(b.now == a.now);
  CHECK(b.interval == a.interval);
  CHECK(b.memory == a.memory);
  CHECK(b.drive == a.drive);
  CHECK(b.alarm == a.alarm);
  CHECK(b.armed == a.armed);
  CHECK(b.network == a.network);
  const std::size_t states = s.start.bench.diagram.states();
  CHECK(std::equal(a.state.begin(), a.state.begin() + static_cast<std::ptrdiff_t>(states), b.state.begin()));
  CHECK(saved_moment_text(back, s.start.bench.scenario, s.start.bench.diagram) == s.text);
}

TEST_CASE("saved moment: disarmed events keep the time at which they happened") {
  Saved s;
  Context& c = s.moment.context;
  for (std::size_t i = 0; i < c.armed.size(); i += 2) {
    c.armed[i] = 0;
    c.marked[i] = c.now - static_cast<Tick>(i);
  }
  const Context back = s.read(saved_moment_text(s.moment, s.start.bench.scenario, s.start.bench.diagram)).context;
  std::size_t disarmed = 0;
  for (const DiagramPart& part : s.start.bench.diagram.parts()) {
    for (std::size_t e = 0; e < part.table->events.size(); ++e) {
      if (!part.table->events[e].guard) continue;
      CHECK(back.armed[part.event + e] == c.armed[part.event + e]);
      if (c.armed[part.event + e]) continue;
      ++disarmed;
      CHECK(back.marked[part.event + e] == c.marked[part.event + e]);
    }
  }
  CHECK(disarmed > 5);
}

TEST_CASE("saved moment: what is no such file") {
  const Saved s;
  try {
    s.read("format: 1");
    FAIL("accepted");
  } catch (const InputError& e) {
    CHECK(std::string(e.what()) ==
          "moment.json: this is no moment of a zoom: it is no object in JSON\n"
          "  try: moment.json out of the folder that a zoom has written");
  }
  CHECK(s.fault([](Json& j) { j["format"] = 2; }) ==
        "\nmoment.json: this is no moment of a zoom: its format is 2, not 1\n"
        "  try: moment.json out of the folder that a zoom has written\n");
  CHECK(s.fault([](Json& j) { j.erase("until"); }).find("it has no \"until\"") != std::string::npos);
  CHECK(s.fault([](Json& j) { j["time"] = 5; }).find("\"time\" is no time in UTC") != std::string::npos);
  CHECK(s.fault([](Json& j) { j["parts"] = 5; }).find("\"parts\" of it is no mapping") != std::string::npos);
  CHECK(s.fault([](Json& j) {
           j["parts"]["cell"]["memory"] = {1, 2};
         }).find("the memory of part cell is not of") != std::string::npos);
  CHECK(s.fault([](Json& j) { j["network"]["rail"] = "high"; }).find("rail is no number") != std::string::npos);
  CHECK(s.fault([](Json& j) {
           j["parts"]["clock"]["alarms"].erase("alarm");
         }).find("the alarms of part clock has no") != std::string::npos);
}

TEST_CASE("saved moment: what the scenario has and the file has not") {
  const Saved s;
  CHECK(s.fault([](Json& j) { j["parts"].erase("boost"); }) ==
        "\nmoment.json: part boost is not in it\n"
        "  try: the scenario of that zoom, with other values but the same parts; or zoom anew with --at TIME\n");
  CHECK(s.fault([](Json& j) {
           j["parts"]["reservoir"]["states"].erase("voltage");
         }).find("state voltage of part reservoir is not in it") != std::string::npos);
  CHECK(s.fault([](Json& j) {
           j["parts"]["boost"]["model"] = "load";
         }).find("part boost is a boost now, and not in it as one") != std::string::npos);
  CHECK(s.fault([](Json& j) {
           j["parts"]["logger"]["memory"][0] = 3;  // running
           j["parts"]["logger"]["memory"][1] = 7;
         }).find("part logger was in a phase or row that it does not have now") != std::string::npos);
  CHECK(s.fault([](Json& j) { j["time"] = "2025-06-01T00:00:00Z"; }).find("lies outside the scenario's span") !=
        std::string::npos);
}
