// Comparison with a stated relative tolerance.
#pragma once

#include <cmath>

namespace overwinter::test {

inline double relative_error(double actual, double expected) { return std::abs(actual / expected - 1); }

}  // namespace overwinter::test
