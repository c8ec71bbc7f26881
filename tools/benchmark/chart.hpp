// The work-precision table drawn.
#pragma once

#include <string>

#include "tools/benchmark/work_precision.hpp"

namespace overwinter {

/// An SVG picture: time over error, both axes logarithmic, a line per method. `caption` stands below it.
std::string work_precision_chart(const WorkPrecision&, const std::string& caption);

}  // namespace overwinter
