// What a zoom is asked for.
#pragma once

#include <variant>

#include "sim/zoom/moment_text.hpp"

namespace overwinter {

struct ZoomRequest {
  std::variant<Tick, NumberedEvent> moment;
  /// Length of the window before and after the moment; it ends with the span.
  Tick before = 1'000'000, after = 4'000'000;
};

}  // namespace overwinter
