// Where the instrument stands.
#pragma once

#include "models/units.hpp"

namespace overwinter {

struct Site {
  Angle latitude{};       ///< north positive
  Angle longitude{};      ///< east positive
  Length elevation{};     ///< above sea level
  Duration utc_offset{};  ///< standard time minus UTC, no daylight saving
  double albedo = 0.2;    ///< ground reflectance (0.2: common practice for snow-free ground)
};

}  // namespace overwinter
