// The design review with place and weather: what the netlist alone cannot tell.
#pragma once

#include <vector>

#include "sim/netlist/review/finding.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// All that is found before a run: the review of the netlist (sim/netlist/review), then panel-away-from-equator,
/// site-offset-far-from-longitude, and what the weather file contradicts itself in (Weather::findings).
std::vector<DesignFinding> review(const Scenario&, const Weather&);

/// panel-away-from-equator: all panels face the pole, and mirrored across the east-west line they would get more light
/// over the span, by 15 % and more under a clear sky. Silent where any faces the equator, east or west, lies flat or
/// looks down: then it is meant. Silent within 10 deg of the equator.
std::vector<DesignFinding> review_panels(const Scenario&, const Weather&);

/// site-offset-far-from-longitude: the standard time is more than 2 h from the sun's, a turn of the earth left out.
/// Civil time keeps within 1.7 h, in the far west of one large country 3 h: common practice.
std::vector<DesignFinding> review_site(const Site&);

}  // namespace overwinter
