#include "sim/replay/weather_input.hpp"

#include <fstream>

#include "sim/weather/csv.hpp"
#include "sim/weather/epw.hpp"
#include "sim/weather/synthetic.hpp"

namespace overwinter {
namespace {

bool begins_as_epw(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string line;
  std::getline(file, line);
  return is_epw(line);
}

CivilDate moved(CivilDate day, int years) {
  day.year += years;
  if (day.month == 2 && day.day == 29 && !is_leap_year(day.year)) day.day = 28;
  return day;
}

}  // namespace

bool repeats_every_year(const Scenario& scenario, const std::optional<std::string>& file) {
  if (scenario.seed && !file) return false;
  return !scenario.csv || (file && begins_as_epw(*file));
}

WeatherInput::Read WeatherInput::read(const Scenario& scenario, const std::optional<std::string>& file,
                                      const std::vector<DaySpan>& spans) {
  const std::string& path = file ? *file : scenario.weather_file;
  if (scenario.seed && !file) {
    Climate climate = read_climate(path);
    if (scenario.site) climate.site = *scenario.site;
    return climate;
  }
  if (repeats_every_year(scenario, file)) return read_epw(path);
  return read_csv(path, *scenario.csv, *scenario.site, spans);
}

WeatherInput::WeatherInput(const Scenario& scenario, const std::optional<std::string>& file,
                           const std::vector<DaySpan>& spans)
    : read_(read(scenario, file, spans)), faults_(scenario.faults), seed_(scenario.seed.value_or(0)) {
  if (const auto* station = std::get_if<StationYear>(&read_)) {
    site_ = file || !scenario.site ? station->site : *scenario.site;
  } else if (const auto* climate = std::get_if<Climate>(&read_)) {
    site_ = climate->site;
  } else {
    site_ = *scenario.site;
  }
}

Weather WeatherInput::over(DaySpan span, std::optional<std::uint64_t> seed) const {
  Weather weather = undisturbed(span, seed);
  const Tick begin = weather.begin();
  for (const TimedFault& fault : faults_) {
    if (fault.kind != cold_snap) continue;
    weather.cool(begin + fault.begin, fault.end == never ? never : begin + fault.end, fault.values.colder);
  }
  return weather;
}

Weather WeatherInput::undisturbed(DaySpan span, std::optional<std::uint64_t> seed) const {
  if (const auto* station = std::get_if<StationYear>(&read_)) return Weather(*station, site_, span.from, span.to);
  if (const auto* record = std::get_if<MeasuredRecord>(&read_)) return Weather(*record, site_, span.from, span.to);
  return Weather(synthetic_record(std::get<Climate>(read_), seed.value_or(seed_), span), site_, span.from, span.to);
}

Weather weather_of(const Scenario& scenario, const std::optional<std::string>& file) {
  const DaySpan span{scenario.from, scenario.to};
  return WeatherInput(scenario, file, {span}).over(span, std::nullopt);
}

DaySpan span_in(const Scenario& scenario, std::optional<int> year) {
  const int years = year ? *year - scenario.from.year : 0;
  return {moved(scenario.from, years), moved(scenario.to, years)};
}

}  // namespace overwinter
