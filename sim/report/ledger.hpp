// Where every joule went, as tables with bars.
#pragma once

#include "sim/report/facts.hpp"
#include "sim/report/html.hpp"

namespace overwinter {

/// From the summary's `energy`; empty without it.
Html ledger_section(const Facts& summary);

}  // namespace overwinter
