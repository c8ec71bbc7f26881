// Every model there is, in one explicit list.
#pragma once

#include <string>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

/// The tables of all models, by name.
const std::vector<const ModelTable*>& catalogue();

/// The table of the model with this name, or null.
const ModelTable* find_model(const std::string& name);

}  // namespace overwinter
