// Calendar days as people write them.
#pragma once

#include <optional>
#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

/// A day written YYYY-MM-DD (ISO 8601), from 1700 to 2261 (the span of Tick). None, and the reason in `why`, otherwise.
std::optional<CivilDate> parse_date(const std::string& key, const std::string& text, TextFault& why);

}  // namespace overwinter
