// Where every joule went, as tables with bars.
#pragma once

#include "sim/report/facts.hpp"
#include "sim/report/html.hpp"

namespace overwinter {

/// From the summary's `energy` and `hiccups`; empty without them.
Html ledger_section(const Facts& summary);

}  // namespace overwinter
