#include "sim/zoom/zoom.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "sim/input_error.hpp"
#include "sim/zoom/waveforms_csv.hpp"
#include "tests/sim/zoom/support/first_start.hpp"

using namespace overwinter;

namespace {

Zoom zoomed(const test::Replayed& bench, const ZoomRequest& request) {
  return zoom(bench.scenario, bench.weather, bench.diagram, {}, request);
}

Zoom from(const test::Replayed& bench, const std::string& text, std::optional<Tick> after = std::nullopt) {
  return zoom_from("moment.json", text, after, bench.scenario, bench.weather, bench.diagram, {});
}

}  // namespace

TEST_CASE("zoom: the window that was asked for, from the moment's own file the same bytes again") {
  const test::FirstStart start;
  const Zoom first = zoomed(start.bench, {start.alarm, 250'000, 5'000'000});
  CHECK(first.waveforms.times.front() == start.alarm - 250'000);
  CHECK(first.waveforms.times.back() == start.alarm + 5'000'000);
  CHECK(first.waveforms.moment == start.alarm);
  CHECK(first.waveforms.occasion.empty());
  CHECK_NOTHROW(require_sound(first.waveforms));
  const Zoom again = from(start.bench, first.moment);
  CHECK(waveforms_csv(again.waveforms) == waveforms_csv(first.waveforms));
  CHECK(marks_csv(again.waveforms) == marks_csv(first.waveforms));
  CHECK(again.moment == first.moment);
  CHECK(from(start.bench, first.moment, 1'000'000).waveforms.times.back() == start.alarm + 1'000'000);
}

TEST_CASE("zoom: another reservoir from the same moment dips less or more") {
  const test::FirstStart start;
  const Zoom first = zoomed(start.bench, {start.alarm, 250'000, 5'000'000});
  const auto lowest_rail = [](const Waveforms& w) {
    std::size_t rail = 0;
    while (w.signals[rail].full_name() != "net.rail") ++rail;
    double lowest = 100;
    for (std::size_t row = 0; row < w.times.size(); ++row) lowest = std::min(lowest, w.value(row, rail));
    return lowest;
  };
  const test::Replayed small = test::transient_bench(
      {{"reservoir: {part: ceramic-100uf}", "reservoir: {part: ceramic-100uf, capacitance: 10 uF}"}});
  CHECK(lowest_rail(from(small, first.moment).waveforms) > lowest_rail(first.waveforms) + 0.5);
}

TEST_CASE("zoom: an event by its number, before which nothing is asked for") {
  const test::FirstStart start;
  const Zoom first = zoomed(start.bench, {NumberedEvent{false, 1}, 0, 1'000'000});
  CHECK(first.waveforms.occasion.rfind("event 1: ", 0) == 0);
  CHECK(first.waveforms.times.front() == first.waveforms.moment - 1);
  REQUIRE_FALSE(first.waveforms.marks.empty());
  CHECK(first.waveforms.marks.front().time == first.waveforms.moment);
}

TEST_CASE("zoom: where the run has gone through a transient that failed, the window begins before it") {
  const test::Replayed bench = test::transient_bench(
      {{"charge: 60 %", "charge: 12 %"}, {"boost-5v-500ma-disconnect", "boost-5v-500ma-disconnect, lockout: 3.1 V"}});
  test::FirstTimes events;
  SimulatorOptions closer;
  closer.look_closer = true;
  Simulator run(bench.diagram, bench.weather, closer, &events);
  Context c = run.start();
  while (events.times.count("boost, lockout") == 0) run.advance_segment(c, bench.weather.end());
  const Tick alarm = events.times.at("clock, alarm"), lockout = events.times.at("boost, lockout");
  REQUIRE(run.steps().failed_looks == 1);
  REQUIRE(c.now > lockout + 1'000'000);
  const Waveforms w = zoomed(bench, {lockout + 500'000, 100'000, 0}).waveforms;
  CHECK(w.times.front() >= alarm - 2);  // in the transient it happens a tick after it was due
  CHECK(w.times.front() < alarm);
  CHECK(w.times.back() == lockout + 500'000);
}

TEST_CASE("zoom: a window without a length") {
  const test::FirstStart start;
  CHECK_THROWS_AS(zoomed(start.bench, {start.bench.weather.begin(), 1'000'000, 0}), InputError);
}

TEST_CASE("zoom: a fault that is in force at the moment is in the window too") {
  const test::Replayed aged = test::transient_bench(
      {{"policy: {every: 10 min}",
        "policy: {every: 10 min}\nfaults:\n  - {part: cell, fault: aged, times: 5, at: 2024-12-01 00:05}"}});
  const test::FirstStart healthy;
  const Zoom with = zoomed(aged, {healthy.alarm, 250'000, 5'000'000});
  const Zoom without = zoomed(healthy.bench, {healthy.alarm, 250'000, 5'000'000});
  const auto dip = [](const Waveforms& w) {
    std::size_t cell = 0;
    while (w.signals[cell].full_name() != "net.cell+") ++cell;
    double lowest = 100;
    for (std::size_t row = 0; row < w.times.size(); ++row) lowest = std::min(lowest, w.value(row, cell));
    return w.value(0, cell) - lowest;
  };
  CHECK(dip(without.waveforms) > 0.01);
  CHECK(dip(with.waveforms) > 2 * dip(without.waveforms));
  CHECK(waveforms_csv(from(aged, with.moment).waveforms) == waveforms_csv(with.waveforms));
}

TEST_CASE("zoom: in the midst of a burst the window begins at rest, what hangs on the rail included") {
  const test::FirstStart start;
  // 52 ms of power-on delay and boot, 0.1 s of measuring and some of the 0.1 s of sending.
  const Waveforms w = zoomed(start.bench, {start.alarm + 200'000'000, 100'000, 1'000'000}).waveforms;
  const auto at = [&](const std::string& name) {
    std::size_t i = 0;
    while (w.signals[i].full_name() != name) ++i;
    return std::make_pair(w.value(0, i), w.value(w.times.size() - 1, i));
  };
  const auto [rail, rail_later] = at("net.rail");
  const auto [current, current_later] = at("boost.output_current");
  CHECK(current > 0.2);
  CHECK(std::abs(current_later - current) < 1e-3);
  CHECK(std::abs(rail_later - rail) < 1e-4);
  CHECK(std::abs(at("reservoir.current").first) < 1e-4);
}

TEST_CASE("zoom: an instrument with hardly a fast store is gone through too") {
  const test::Replayed bench("scenarios/mechanisms/reset-loop.yaml", {2025, 1, 10}, {2025, 1, 10});
  const Zoom seen = zoomed(bench, {NumberedEvent{true, 1}, 1'000'000, 4'000'000});
  const auto& marks = seen.waveforms.marks;
  const auto brownout = std::find_if(marks.begin(), marks.end(), [](const Mark& m) { return m.event == "brown-out"; });
  REQUIRE(brownout != marks.end());
  // 100 nF holds the supply up for a microsecond, which the settled run leaves out.
  CHECK(std::abs(brownout->time - seen.waveforms.moment) < 5000);
}

TEST_CASE("zoom: a saved moment in which a part cannot be is refused") {
  const test::FirstStart start;
  std::string moment = zoomed(start.bench, {start.alarm, 250'000, 1'000'000}).moment;
  const std::size_t boost = moment.find("\"boost\""), memory = moment.find("\"memory\": [", boost);
  const std::size_t first = moment.find_first_of("0123456789", memory);
  moment.replace(first, 1, "99");
  try {
    from(start.bench, moment);
    FAIL("accepted");
  } catch (const InputError& e) {
    CHECK(std::string(e.what()).find("cannot be in that state: boost has no regime in it") != std::string::npos);
  }
}
