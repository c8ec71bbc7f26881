// Lists of whole numbers as people write them: 1..50, or 3,7,9, or both: 1..5,9.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/units_text.hpp"

namespace overwinter {

/// The most members an ensemble may have.
inline constexpr std::size_t most_members = 100'000;

/// The numbers in the order written, each from `least` to `most` and none twice. None, and the reason in `why`,
/// otherwise.
std::optional<std::vector<int>> parse_number_list(const std::string& text, int least, int most, TextFault& why);

}  // namespace overwinter
