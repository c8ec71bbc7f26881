// How a parameter, its range and its value read as text.
#pragma once

#include <optional>
#include <string>

#include "models/table.hpp"

namespace overwinter {

/// "above 0 ohm", "from 0 % to 100 %"; empty without limits.
std::string range_text(const std::optional<Limit>& minimum, const std::optional<Limit>& maximum, const Unit&);

/// Empty if `si` is allowed, else what must hold, such as "resistance must be above 0 ohm". A value that misses a
/// closed limit by no more than rounding is set to it.
std::string range_fault(const std::string& key, double& si, const std::optional<Limit>& minimum,
                        const std::optional<Limit>& maximum, const Unit&);

/// The parameter's value as one writes it in a scenario; empty if it has none.
std::string value_text(const Field&, const void* parameters);

/// What to write for a parameter: "NUMBER ohm", "true or false", "{charge: NUMBERS %, voltage: NUMBERS V}",
/// "[{name: TEXT, duration: NUMBER s}, ...]".
std::string written_form(const Field&);

}  // namespace overwinter
