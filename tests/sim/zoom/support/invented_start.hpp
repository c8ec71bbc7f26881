// An instrument's rail that is switched on, as a zoom would leave it; every number is invented.
#pragma once

#include "sim/zoom/waveforms.hpp"

namespace overwinter::test {

inline constexpr Tick start_moment = 20'011 * ticks_per_day + 7'200 * ticks_per_second;  // 2024-10-15 02:00

/// Five rows: at rest, just before and at the moment, 12.5 us and 2 ms later.
inline Waveforms invented_start() {
  Waveforms w;
  w.title = "invented logger <first> winter";
  w.occasion = "event 3: switch, on";
  w.moment = start_moment;
  const Output regime{"regime", unit_of<double>("1"), "what the part does", {}, {"off", "starting", "on"}};
  const Output current{"input_current", unit_of<Current>("mA"), "into in", {}, {}};
  const Output share{"efficiency", unit_of<double>("%"), "out over in", {}, {}};
  w.signals = {net_signal("cell+"),
               net_signal("rail"),
               output_signal("boost", regime),
               output_signal("boost", current),
               output_signal("boost", share),
               logic_signal("radio-on")};
  w.times = {start_moment - 1'000'000, start_moment - 1, start_moment, start_moment + 12'500, start_moment + 2'000'000};
  w.values = {3.7,  0,          0, 0,       0,     0,  //
              3.7,  0,          0, 2.1e-5,  0,     0,  //
              3.65, 0,          1, 0.25,    0.5,   0,  //
              3.66, 2.51234567, 1, 0.4,     0.875, 0,  //
              3.69, 4.99,       2, 0.01234, 0.9,   1};
  w.marks = {{start_moment, "boost", "starts", "its input rose above the release"},
             {start_moment, "switch", "on", "the gate, \"driven\""},
             {start_moment + 12'500, "", "collapse", "net rail went from 5.000 V to 2.500 V"},
             {start_moment + 2'000'000, "boost", "starts", "its input rose above the release"}};
  w.thresholds = {{0, 2.75, "lockout"}, {3, 0.5, "limit"}};
  return w;
}

}  // namespace overwinter::test
