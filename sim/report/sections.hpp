// The report's chapters in words and tables. Each reads its part of the summary and is empty where that is missing.
#pragma once

#include "sim/report/facts.hpp"
#include "sim/report/html.hpp"
#include "sim/report/texts.hpp"

namespace overwinter {

/// With the findings and the weather's warnings.
Html verdict_section(const Facts& summary);
Html requirements_section(const Facts& summary);
Html service_section(const Facts& summary, const SiteClock&);
/// With a button per episode that shows it in the charts, and what was stepped over of reset loops.
Html brownouts_section(const Facts& summary, const SiteClock&);
Html damage_section(const Facts& summary, const SiteClock&);
Html mechanisms_section(const Facts& summary);
/// Thinnest first.
Html margins_section(const Facts& summary, const SiteClock&);
Html cell_section(const Facts& summary, const SiteClock&);
/// Faults that were given, and assumptions.
Html remarks_section(const Facts& summary);
Html making_section(const Facts& summary);

/// "2024-10-15 to 2025-03-31, 168 days; ..." under the title.
Html overview(const Facts& summary);

}  // namespace overwinter
