#include "sim/zoom/waveforms.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <stdexcept>

#include "tests/sim/zoom/support/invented_start.hpp"

using namespace overwinter;

TEST_CASE("a signal's kind and column follow from its table") {
  const auto of = [](Unit unit, std::vector<std::string> labels = {}) {
    return output_signal("boost", {"output", std::move(unit), "meaning", {}, std::move(labels)});
  };
  CHECK(of(unit_of<Voltage>("mV")).kind == Signal::Kind::voltage);
  CHECK(of(unit_of<Current>("mA")).kind == Signal::Kind::current);
  CHECK(of(unit_of<Power>("W")).kind == Signal::Kind::other);
  CHECK(of(unit_of<double>("1"), {"off", "on"}).kind == Signal::Kind::regime);
  CHECK(of(unit_of<Voltage>("mV")).column() == "boost.output [mV]");
  CHECK(of(unit_of<double>("1")).column() == "boost.output");
  CHECK(net_signal("cell+").column() == "net.cell+ [V]");
  CHECK(logic_signal("wake").column() == "line.wake");
}

TEST_CASE("unsound waveforms are refused") {
  CHECK_NOTHROW(require_sound(test::invented_start()));
  const auto refused = [](const char* what, const std::function<void(Waveforms&)>& spoil) {
    CAPTURE(what);
    Waveforms w = test::invented_start();
    spoil(w);
    CHECK_THROWS_AS(require_sound(w), std::invalid_argument);
  };
  refused("no rows", [](Waveforms& w) { w.times.clear(), w.values.clear(), w.marks.clear(); });
  refused("no signals", [](Waveforms& w) { w.signals.clear(), w.values.clear(), w.thresholds.clear(); });
  refused("a value too few", [](Waveforms& w) { w.values.pop_back(); });
  refused("two rows at one time", [](Waveforms& w) { w.times[2] = w.times[1]; });
  refused("no number", [](Waveforms& w) { w.values[0] = std::nan(""); });
  refused("infinite", [](Waveforms& w) { w.values[3] = std::numeric_limits<double>::infinity(); });
  refused("a regime without a label", [](Waveforms& w) { w.values[2] = 3; });
  refused("half a regime", [](Waveforms& w) { w.values[2] = 0.5; });
  refused("a level of 2", [](Waveforms& w) { w.values[5] = 2; });
  refused("a level of -1", [](Waveforms& w) { w.values[5] = -1; });
  refused("marks out of order", [](Waveforms& w) { std::swap(w.marks[0], w.marks[3]); });
  refused("a mark before the first row", [](Waveforms& w) { w.marks[0].time = w.times[0] - 1; });
  refused("a mark behind the last row", [](Waveforms& w) { w.marks[3].time = w.times[4] + 1; });
  refused("a threshold of no signal", [](Waveforms& w) { w.thresholds[0].signal = 6; });
  refused("a threshold of a regime", [](Waveforms& w) { w.thresholds[0].signal = 2; });
  refused("a threshold that is no number", [](Waveforms& w) { w.thresholds[0].value = std::nan(""); });
}

TEST_CASE("values are written in their unit to nine digits, and what the solver leaves of nothing is nothing") {
  const Waveforms w = test::invented_start();
  CHECK(written_value(0.0123456789012, w.signals[3]) == 12.3456789);
  CHECK(written_value(3.3 + 1e-13, w.signals[0]) == 3.3);
  CHECK(written_value(-4e-13, w.signals[0]) == 0);
  CHECK_FALSE(std::signbit(written_value(-4e-13, w.signals[0])));
  CHECK(written_value(1, w.signals[2]) == 1);
}

TEST_CASE("the row of a time") {
  const Waveforms w = test::invented_start();
  CHECK(row_at(w, w.moment - 5'000'000) == 0);
  CHECK(row_at(w, w.moment) == 2);
  CHECK(row_at(w, w.moment + 1) == 3);
  CHECK(row_at(w, w.moment + 5'000'000) == 4);
}

TEST_CASE("a time from the moment is exact, in the unit that fits") {
  CHECK(offset_text(0) == "0 s");
  CHECK(offset_text(1) == "+0.001 us");
  CHECK(offset_text(-12'345) == "-12.345 us");
  CHECK(offset_text(999'999) == "+999.999 us");
  CHECK(offset_text(1'000'000, "\u00B5s") == "+1 ms");
  CHECK(offset_text(-3'200'001) == "-3.200001 ms");
  CHECK(offset_text(20 * ticks_per_second + 1) == "+20.000000001 s");
  CHECK(offset_text(12'000, "\u00B5s") == "+12 \u00B5s");
}
