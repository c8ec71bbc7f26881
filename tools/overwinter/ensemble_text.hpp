// What a person sees of an ensemble's result.
#pragma once

#include <string>

#include "sim/ensemble/ensemble.hpp"

namespace overwinter {

/// Verdict, a table of the members (of many, the worst ten and a line for each quantile), the command that runs one
/// alone, and what was written. `command`: that of the ensemble with its scenario and those of its options that belong
/// to a single run.
std::string ensemble_text(const EnsembleResult&, const std::string& command);

/// The members that could not be completed, each with its reason, and of many the first few; empty where all were.
std::string errors_text(const EnsembleResult&);

}  // namespace overwinter
