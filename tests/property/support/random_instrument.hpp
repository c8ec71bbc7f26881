// Random whole instruments of stock classes, panel to radio, as the text of a scenario. Valid by construction: each
// is one that somebody could wire up.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace overwinter::test {

constexpr double month = 2629743.83;  // s, a twelfth of the tropical year

/// Random numbers that are the same for a seed on every machine.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : bits_(seed) {}
  /// Uniformly distributed in [0, 1).
  double share() { return static_cast<double>(bits_() >> 11) * 0x1p-53; }
  double between(double low, double high) { return low + (high - low) * share(); }
  /// Its logarithm is uniformly distributed.
  double scale(double low, double high);
  bool chance(double probability) { return share() < probability; }
  int whole(int low, int high) { return low + static_cast<int>(share() * (high - low + 1)); }
  std::uint32_t seed() { return static_cast<std::uint32_t>(bits_() >> 32); }
  template <class T>
  T pick(std::initializer_list<T> list) {
    return *(list.begin() + whole(0, static_cast<int>(list.size()) - 1));
  }

 private:
  std::mt19937_64 bits_;
};

/// The text of a scenario, kept as pieces that may stand in any order.
struct Netlist {
  std::string name = "random";
  std::vector<std::string> parts, lines;
  std::vector<std::pair<std::string, std::vector<std::string>>> nets;
  std::string policy, weather, site, from = "2025-03-01", to = "2025-03-01";
  double capacity = 0;        ///< A s
  double self_discharge = 0;  ///< share per second at 25 degC

  std::string text() const;
  void shuffle(std::mt19937& random);
};

/// Panel, diode, charger, protected cell, converter, switch, one store behind it, probe and radio, without weather.
/// `charge`: of the cell at the start, %.
Netlist plain_instrument(Dice&, double charge);

/// Whatever people wire: up to three panels, with or without diodes, protector and converter, the switch before or
/// behind the converter, stores before and behind the switch, a second switch, loads of every kind on alarms of the
/// clock or of their own, 0 to 100 % of charge, 3 to 10 days of recorded or synthetic weather. `source`: the folder of
/// the repository, for its weather.
Netlist random_instrument(std::uint64_t number, const std::string& source);

}  // namespace overwinter::test
