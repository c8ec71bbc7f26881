// The packaged chart library as a piece of a page, with its licence.
#pragma once

#include <string>

namespace overwinter {

/// A file of embedded_report.hpp. Throws std::logic_error for a name that is none of them.
const std::string& embedded_file(const std::string& name);

/// What a page with charts ends with: licence, style and code of the library, then the embedded script that draws.
std::string chart_library(const std::string& script);

}  // namespace overwinter
