#include "sim/replay/recorder.hpp"

#include <doctest/doctest.h>

#include <sstream>

#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

TEST_CASE("the trace has a row every ten minutes and at every event, each complete and later than the one before") {
  const test::Scratch scratch;
  const test::Replayed b("scenarios/peat-bog-harvest.yaml", {2025, 2, 1}, {2025, 2, 2});
  Recorder recorder(b.diagram, b.weather, scratch.path("trace.csv"), scratch.path("events.csv"));
  SimulatorOptions options;
  options.sample_every = 600 * ticks_per_second;
  Simulator simulator(b.diagram, b.weather, options, &recorder);
  Context c = simulator.start();
  simulator.advance(c, b.weather.end());
  recorder.finish();

  std::istringstream trace(scratch.read("trace.csv")), events(scratch.read("events.csv"));
  std::string line, before;
  REQUIRE(std::getline(trace, line));
  CHECK(line.find("cell.state_of_charge [%]") != std::string::npos);
  CHECK(line.find("net.sun [V]") != std::string::npos);
  const auto columns = std::count(line.begin(), line.end(), ',');
  std::size_t rows = 0;
  while (std::getline(trace, line)) {
    ++rows;
    CHECK(std::count(line.begin(), line.end(), ',') == columns);
    const std::string time = line.substr(0, 19);
    CHECK(time >= before);
    before = time;
  }
  std::size_t happened = 0;
  while (std::getline(events, line)) ++happened;
  CHECK(rows >= 288);
  CHECK(rows <= 288 + happened);
}

TEST_CASE("a mechanism has a row in the event list") {
  const test::Scratch scratch;
  const test::Replayed b("scenarios/peat-bog-harvest.yaml", {2025, 2, 1}, {2025, 2, 1});
  Recorder recorder(b.diagram, b.weather, scratch.path("trace.csv"), scratch.path("events.csv"));
  recorder.on_mechanism(b.weather.begin(), "weak-light", "charger", "asleep, all day");
  recorder.finish();
  CHECK(scratch.read("events.csv") ==
        "time [UTC],round,part,event,meaning\n"
        "2025-02-01T00:00:00.000000000Z,0,charger,mechanism weak-light,\"asleep, all day\"\n");
}

TEST_CASE("where a run was cut short, the last row of both files says so, as wide as the others") {
  const test::Scratch scratch;
  const test::Replayed b("scenarios/peat-bog-harvest.yaml", {2025, 2, 1}, {2025, 2, 1});
  Recorder recorder(b.diagram, b.weather, scratch.path("trace.csv"), scratch.path("events.csv"));
  recorder.cut_short(b.weather.begin() + ticks_per_second, "the limit of 1 s, no more");
  recorder.finish();
  std::istringstream trace(scratch.read("trace.csv"));
  std::string header, last;
  REQUIRE(std::getline(trace, header));
  REQUIRE(std::getline(trace, last));
  const std::string says = "\"cut short at 2025-02-01T00:00:01Z by the limit of 1 s, no more\"";
  CHECK(last.find(says) == 0);
  CHECK(std::count(last.begin() + static_cast<std::ptrdiff_t>(says.size()), last.end(), ',') ==
        std::count(header.begin(), header.end(), ','));
  CHECK(scratch.read("events.csv") ==
        "time [UTC],round,part,event,meaning\n"
        "2025-02-01T00:00:01Z,0,,cut short,\"by the limit of 1 s, no more; the span goes on\"\n");
}
