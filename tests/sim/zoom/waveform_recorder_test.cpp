#include "sim/zoom/waveform_recorder.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/sim/zoom/support/first_start.hpp"

using namespace overwinter;

namespace {

std::size_t place(const Waveforms& w, const std::string& name) {
  const auto found =
      std::find_if(w.signals.begin(), w.signals.end(), [&](const Signal& s) { return s.full_name() == name; });
  REQUIRE_MESSAGE(found != w.signals.end(), name);
  return static_cast<std::size_t>(found - w.signals.begin());
}

bool has(const Waveforms& w, const std::string& name) {
  return std::any_of(w.signals.begin(), w.signals.end(), [&](const Signal& s) { return s.full_name() == name; });
}

}  // namespace

TEST_CASE("recorder: nets, logic lines, voltages, currents, regimes and fast states; nothing that only a year moves") {
  const test::FirstStart start;
  const Waveforms w = start.recorded(1'000'000);
  for (const char* name :
       {"net.rail", "net.wake", "line.send", "boost.input_current", "boost.regime", "boost.rail_current",
        "switch.source_gate", "reservoir.voltage", "cell.current", "logger.mode"}) {
    CHECK_MESSAGE(has(w, name), name);
  }
  for (const char* name : {"panel.light", "cell.state_of_charge", "boost.efficiency", "net.gnd", "line.bus"}) {
    CHECK_FALSE_MESSAGE(has(w, name), name);
  }
  const auto twice = std::count_if(w.signals.begin(), w.signals.end(),
                                   [](const Signal& s) { return s.full_name() == "reservoir.voltage"; });
  CHECK(twice == 1);
}

TEST_CASE("recorder: an event has a row a tick before with what was, and one at its tick with what came of it") {
  const test::FirstStart start;
  const Waveforms w = start.recorded(1'000'000);
  CHECK_NOTHROW([&] {
    Waveforms sound = w;
    sound.title = "first start";
    require_sound(sound);
  }());
  REQUIRE_FALSE(w.marks.empty());
  CHECK(w.marks.front().part == "clock");
  CHECK(w.marks.front().event == "alarm");
  CHECK(w.marks.front().time == start.alarm);
  const std::size_t row = row_at(w, start.alarm), gate = place(w, "net.wake"), rail = place(w, "net.rail");
  CHECK(w.times[row] == start.alarm);
  CHECK(w.times[row - 1] == start.alarm - 1);
  CHECK(w.value(row - 1, gate) > 4.5);
  CHECK(w.value(row, gate) < w.value(row - 1, gate) - 0.05);  // the driver has pulled for no time yet
  CHECK(w.value(row - 1, rail) > 4.9);
  const std::size_t end = w.times.size() - 1;
  CHECK(w.value(end, place(w, "net.instrument+")) > 0.2);
}

TEST_CASE("recorder: thresholds in force stand on the net that they watch") {
  const test::FirstStart start;
  const Waveforms w = start.recorded(5'000'000);
  REQUIRE(w.thresholds.size() == 3);  // guard, boost, and the controller once it boots, 2 ms after its supply is valid
  const auto lockout = std::find_if(w.thresholds.begin(), w.thresholds.end(),
                                    [](const Threshold& t) { return t.label == "boost: lockout"; });
  REQUIRE(lockout != w.thresholds.end());
  CHECK(lockout->value == doctest::Approx(2.4));
  CHECK(w.signals[lockout->signal].full_name() == "net.pack+");
}

TEST_CASE("recorder: more rows than allowed") {
  const test::FirstStart start;
  CHECK_THROWS_AS(start.recorded(1'000'000, 20), TooManyRows);
}
