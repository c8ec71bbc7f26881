// Makes up a year of weather for an invented place and writes it as an EPW file.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <string>

#include "sim/input_error.hpp"
#include "sim/weather/climate.hpp"
#include "sim/weather/epw.hpp"
#include "sim/weather/synthetic.hpp"

int main(int argc, char** argv) {
  using namespace overwinter;
  CLI::App app(
      "Makes up a year of hourly weather for an invented place.\n"
      "  weather_maker --climate tools/weather_maker/upland-bog.yaml --seed 28 --out scenarios/peat-bog.epw\n"
      "Methods and sources: sim/weather/synthetic.hpp; keys of a climate file: sim/weather/climate.hpp.");
  std::string climate_file, out_file;
  std::uint64_t seed = 1;
  int calendar_year = 2001;
  app.add_option("--climate", climate_file, "climate file (YAML)")->required();
  app.add_option("--seed", seed, "same seed, same weather")->capture_default_str();
  app.add_option("--year", calendar_year, "calendar year of the rows, not a leap year")
      ->capture_default_str()
      ->check([](const std::string& text) {
        const int year = std::atoi(text.c_str());
        const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
        return year < 1950 || year > 2100 || leap ? "a year from 1950 to 2100 with 365 days is needed" : std::string();
      });
  app.add_option("--out", out_file, "EPW file to write")->required();
  CLI11_PARSE(app, argc, argv);

  try {
    const Climate climate = read_climate(climate_file);
    const StationYear year = synthetic_year(climate, seed, calendar_year);
    const std::string text = epw_text(
        year, "INVENTED", fmt::format("Invented weather of an invented place, seed {}: not a measurement", seed),
        "Daily light: Aguiar, Collares-Pereira & Conde 1988 with dull spells added; hourly: Aguiar & Collares-Pereira "
        "1992; "
        "split: Erbs, Klein & Duffie 1982");
    std::ofstream file(out_file, std::ios::binary);
    file << text;
    file.close();
    if (!file) {
      fmt::print(stderr, "{}: cannot be written\n", out_file);
      return 3;
    }
    double celsius_hours = 0;
    for (const StationRecord& record : year.hours) celsius_hours += record.air_celsius;
    fmt::print("{}: {:.0f} kWh/m2 in the year, mean {:.1f} degC\n", out_file, annual_horizontal_kwh(year),
               celsius_hours / static_cast<double>(year.hours.size()));
  } catch (const InputError& error) {
    fmt::print(stderr, "{}\n", error.what());
    return 2;
  }
}
