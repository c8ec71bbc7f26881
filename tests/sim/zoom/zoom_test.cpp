#include "sim/zoom/zoom.hpp"

#include <doctest/doctest.h>

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
