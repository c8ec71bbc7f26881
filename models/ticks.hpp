// Durations on the tick grid.
#pragma once

#include <cmath>

#include "models/model.hpp"

namespace overwinter {

/// The nearest whole number of ticks.
inline Tick ticks(Duration d) { return static_cast<Tick>(std::llround(d.si() * ticks_per_second)); }

}  // namespace overwinter
