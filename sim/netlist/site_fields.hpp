// What a scenario says about its site, described like the parameters of a model.
#pragma once

#include <vector>

#include "models/table.hpp"

namespace overwinter {

/// The fields of a struct Site.
const std::vector<Field>& site_fields();

}  // namespace overwinter
