// What weather by the minute costs against the same weather by the hour.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/weather/weather.hpp"

namespace overwinter {

enum class Rows {
  hourly,   ///< the station's hours
  minutes,  ///< each of them sixty times
  clouds,   ///< the same with clouds passing, each hour's light kept
};

/// The station's light and air on the scenario's days as a measured record. The clouds are invented and the same at
/// every call: cloudy and clear spells with mean lengths of 4 and 8 minutes, a fifth of the clear light under a cloud.
MeasuredRecord measured_record(const StationYear&, const Scenario&, Rows);

struct MinuteCost {
  std::string scenario;
  int days = 0;
  double hourly_seconds_per_year = 0;
  double minutes_ratio = 0, clouds_ratio = 0;    ///< of the time
  double minutes_solves = 0, clouds_solves = 0;  ///< of the network solves
};

std::vector<MinuteCost> measure_minute_weather(const std::vector<std::string>& scenarios, int days, int runs);
void print(const std::vector<MinuteCost>&);
nlohmann::ordered_json json_of(const std::vector<MinuteCost>&);

}  // namespace overwinter
