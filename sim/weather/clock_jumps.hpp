// Whether the clock of a measured record follows daylight saving time.
//
// A clock that is put forward leaves an hour without rows, and all light after it comes an hour late. A station that
// merely missed an hour leaves the same gap, but no shift. So the light's own clock is read on both sides of a gap:
//   (1)  l = min(G, Gd) / Gd                      light, G global, Gd = 30 W/m2: 0 by night, 1 by day under any cloud
//   (2)  s minimises sum (l(t) - lc(t - s))^2     lc is (1) of a clear sky (light/clear_sky.hpp); s by 5 minutes
// A horizon that is not flat, a stamp that is wrong and the day's usual clouds shift s on both sides alike and drop out
// of the difference.
#pragma once

#include <vector>

#include "models/light/sun.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// A gap of an hour after which the light comes an hour later than before.
struct ClockJump {
  Tick begin, end;         ///< of the gap, UTC by the record's clock
  Duration before, after;  ///< s of (2)
};

/// Whether local time is one at which countries change their clocks: between 23:00 and 04:00 in March, April,
/// September, October or November (common practice).
bool clocks_may_change(Tick local);

/// All of a record whose rows are not filled yet, in order. Looks at gaps of exactly an hour that begin when clocks
/// may change, with rows of ten days and more on both sides (at most 20 are read). None where the rows are longer
/// than an hour.
std::vector<ClockJump> clock_jumps(const MeasuredRecord&, const Observer&, Tick local_offset);

}  // namespace overwinter
