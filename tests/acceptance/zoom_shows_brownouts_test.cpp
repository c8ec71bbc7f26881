// The zoom into a brown-out that a run tells of shows it: the settled run and the one with its fast stores are of the
// same instrument, and at rest the one begins where the other stands.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "sim/zoom/zoom.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("what a brown-out begins with stands in its zoom, within what converter and gates take to act") {
  // The current loop's time constant is 1.6 us, a gate's below 1 us; a burst beside 100 uF reaches the converter as the
  // net gives way, in some 30 us (measured).
  constexpr Tick they_act = 50'000;  // ns
  for (const std::string name :
       {"outcomes/alarm-in-the-past", "outcomes/needs-human", "outcomes/recovers", "outcomes/undecided",
        "mechanisms/constant-power-collapse", "mechanisms/converter-limit", "mechanisms/half-awake",
        "mechanisms/inrush", "mechanisms/protector-trip"}) {
    CAPTURE(name);
    const test::Replayed run(std::string(OVERWINTER_SOURCE) + "/scenarios/" + name + ".yaml");
    const Waveforms w =
        zoom(run.scenario, run.weather, run.diagram, {}, {NumberedEvent{true, 1}, 1'000'000, 4'000'000}).waveforms;
    const auto shows = [&](const Mark& m) {
      const std::string asked = "): " + m.part + ", " + m.event;
      return w.occasion.find(asked) != std::string::npos && std::abs(m.time - w.moment) < they_act;
    };
    CHECK(std::any_of(w.marks.begin(), w.marks.end(), shows));
  }
}
