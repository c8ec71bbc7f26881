#include "sim/replay/weather_json.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/service/sunny_days.hpp"

namespace overwinter {

nlohmann::ordered_json weather_json(const Weather& weather) {
  constexpr double joules_per_kwh = 3.6e6;
  const WeatherSource& source = weather.source();
  const std::vector<double> light = SunnyDays(weather).light;
  const auto offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si() * ticks_per_second));
  const auto [least, most] = std::minmax_element(light.begin(), light.end());
  const auto day = [&](std::vector<double>::const_iterator at) {
    return nlohmann::ordered_json{
        {"date", iso(civil_date((weather.begin() + offset) / ticks_per_day + (at - light.begin())))},
        {"kWh_m2", *at / joules_per_kwh}};
  };
  const auto [coldest, warmest] =
      std::minmax_element(weather.intervals().begin(), weather.intervals().end(),
                          [](const auto& a, const auto& b) { return a.ambient.air.si() < b.ambient.air.si(); });
  const auto celsius_of = [](const WeatherInterval& i) { return i.ambient.air.si() - zero_celsius.si(); };
  return {{"source", source.place},
          {"file", source.path},
          {"rows", source.rows},
          {"step_s", static_cast<double>(source.step) / ticks_per_second},
          {"kWh_m2_a_day",
           std::accumulate(light.begin(), light.end(), 0.0) / joules_per_kwh / static_cast<double>(light.size())},
          {"dullest_day", day(least)},
          {"brightest_day", day(most)},
          {"coldest_degC", celsius_of(*coldest)},
          {"warmest_degC", celsius_of(*warmest)}};
}

}  // namespace overwinter
