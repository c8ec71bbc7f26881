// The matrix of switch-ons: small instruments of stock classes that differ in where the switch is, what stands behind
// it, how long the controller boots, how fast the gate is, the converter and the cell. Each goes through ten wakes.
#pragma once

#include <cstddef>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter::test {

/// One cell of the matrix. Its places count through all of them, the gate fastest.
struct SwitchOn {
  std::size_t side = 0, converter = 0, cell = 0, store = 0, boot = 0, gate = 0;
  std::string text() const;
  /// As a scenario, with this weather file.
  std::string yaml(const std::string& weather) const;
};
inline constexpr std::size_t sides = 2, converters = 3, cells = 2, stores = 6, boots = 4, gates = 4;
inline constexpr std::size_t switch_ons = sides * converters * cells * stores * boots * gates;
SwitchOn switch_on(std::size_t place);

/// What a wake came to, from its alarm on.
struct WakeOutcome {
  Tick alarm = 0;
  bool completed = false;
  std::set<std::string> failures;  ///< "part, event": cuts and brown-outs
  bool operator==(const WakeOutcome& o) const { return completed == o.completed && failures == o.failures; }
  std::string text() const;
};

class MatrixBench {
 public:
  explicit MatrixBench(const SwitchOn&);
  /// Ten wakes, with or without looking closer. Failures count for as long as a wake can last.
  std::vector<WakeOutcome> wakes(bool look_closer) const;
  /// The wake whose alarm comes then in the run that looks closer: every store integrated from 20 us before the alarm
  /// on by SUNDIALS CVODES (BDF, 20 nV), without any part of the engine that takes a store for settled.
  WakeOutcome integrated(Tick alarm) const;

 private:
  Scenario scenario_;
  std::unique_ptr<Diagram> diagram_;
  Tick window_ = 0;
};

}  // namespace overwinter::test
