// A folder of its own for a test, with scenario and weather files made on the spot.
#pragma once

#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <string>

#include "sim/weather/epw.hpp"

namespace overwinter::test {

class Scratch {
 public:
  Scratch() {
    static int count = 0;
    folder_ = std::filesystem::temp_directory_path() /
              ("overwinter-test-" + std::to_string(::getpid()) + "-" + std::to_string(count++));
    std::filesystem::create_directories(folder_);
  }
  ~Scratch() { std::filesystem::remove_all(folder_); }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;

  std::string path(const std::string& name) const { return (folder_ / name).string(); }
  std::string write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return path(name);
  }
  std::string read(const std::string& name) const {
    std::ifstream file(folder_ / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  }
  /// A station on the equator at 20 degC throughout; `light` gives the global radiation of an hour of the day.
  std::string write_weather(const std::string& name, const std::function<double(int)>& light) const {
    StationYear year;
    year.place = "Test station";
    for (std::size_t h = 0; h < hours_per_year; ++h) {
      StationRecord r;
      r.air_celsius = 20;
      r.global_horizontal = light(static_cast<int>(h % 24));
      r.diffuse_horizontal = r.global_horizontal;
      year.hours.push_back(r);
    }
    year.source_years = {2001};
    return write(name, epw_text(year, "TEST", "made by a test", "constant weather"));
  }

 private:
  std::filesystem::path folder_;
};

/// A cell of 1 Ah without RC pairs to speak of, with the given open-circuit voltages (V) at 0 and 100 % and a constant
/// series resistance (mohm), and one more part between its terminals.
inline std::string cell_and(const std::string& part, const std::string& volts, const std::string& milliohms) {
  const auto flat = [](const std::string& mohm) {
    return "{charge: 0 100 %, resistance: " + mohm + " " + mohm + " mohm}";
  };
  return "scenario: test\nspan: {from: 2025-03-01, to: 2025-03-02}\nweather: {file: still.epw}\nparts:\n"
         "  cell:\n    model: cell\n    capacity: 1000 mAh\n    charge: 100 %\n    self_discharge: 0 %/month\n"
         "    activation_energy: 0 eV\n    usable_capacity: {temperature: 0 20 degC, share: 100 100 %}\n"
         "    open_circuit_voltage: {charge: 0 100 %, voltage: " +
         volts +
         " V}\n"
         "    series_resistance: " +
         flat(milliohms) + "\n    pair_1_resistance: " + flat("0.000001") +
         "\n    pair_2_resistance: " + flat("0.000001") +
         "\n    pair_1_time: 30 s\n    pair_2_time: 300 s\n  load: " + part +
         "\nnets:\n  pack+: [cell.plus, load.plus]\n  gnd: [cell.minus, load.minus]\n";
}

}  // namespace overwinter::test
