// What `check` tells of the weather.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/weather/weather.hpp"

namespace overwinter {

/// Rows and step of the file, and over the span: light on the horizontal per day of the site's standard time (kWh/m2),
/// the dullest and the brightest day, the coldest and the warmest interval (degC).
nlohmann::ordered_json weather_json(const Weather&);

}  // namespace overwinter
