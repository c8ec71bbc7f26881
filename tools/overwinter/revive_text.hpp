// What a person sees of the dead states of an instrument.
#pragma once

#include <string>

#include "sim/revive/revive.hpp"

namespace overwinter {

/// The dawns, how many states come back in which of them, the traps with what blocks and what would help, what is
/// undecided, and what was not put to the test.
std::string revive_text(const ReviveResult&);

/// The states that could not be completed, of many the first few; empty where all were.
std::string revive_errors_text(const ReviveResult&);

}  // namespace overwinter
