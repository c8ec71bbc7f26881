// Calendar days as people write them.
#pragma once

#include <optional>
#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

/// The span of Tick.
inline constexpr int first_year = 1700, last_year = 2261;

/// A day written YYYY-MM-DD (ISO 8601), from first_year to last_year. None, and the reason in `why`, otherwise.
std::optional<CivilDate> parse_date(const std::string& key, const std::string& text, TextFault& why);

}  // namespace overwinter
