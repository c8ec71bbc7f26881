// One simulated span, timed and counted.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "tools/benchmark/cvode_stepper.hpp"

namespace overwinter {

/// A method of integration by its name in the tables.
struct Method {
  std::string name;
  std::function<std::unique_ptr<Stepper>(const StepperSettings&)> make;
  Stepping stepping = Stepping::phases;  ///< whose rules of trust in a long step the engine follows
  bool plain = false;                    ///< with plain_newton.hpp in place of the engine's network solver
};

Method phases_method();
Method reference_method();
Method cvode_method(CvodeVariant);
/// The same method with plain Newton in place of the engine's network solver.
Method with_plain_newton(Method);

/// That this process has used.
double processor_seconds();

/// An event that the service is told of.
struct ServiceEvent {
  Tick time = 0;
  const DiagramPart* part = nullptr;
  const Event* event = nullptr;
};

struct Course {
  double seconds = 0;                                         ///< processor time of the simulation alone
  std::size_t right_hand_sides = 0;                           ///< that the stepper asked for
  std::size_t solves = 0;                                     ///< of the network, for whatever purpose
  std::size_t steps = 0, retries = 0, events = 0, wakes = 0;  ///< wakes: completed
  std::vector<double> charge;                                 ///< of the cell at every hour, 0...1
  std::vector<double> voltage;                                ///< of the cell at every hour, V
  std::vector<ServiceEvent> service;
};

/// Simulates from the weather's begin for `span` ticks, its whole length at most. Throws std::invalid_argument for a
/// diagram without a cell.
Course run_course(const Diagram&, const Weather&, const Method&, double tolerance, Tick span);
Course run_course(const Diagram&, const Weather&, const Method&, double tolerance);

/// Largest difference in time (s) of the events that the service is told of, of two courses of one diagram. Empty where
/// they are not the same in the same order.
std::optional<double> events_apart(const Course&, const Course&);

/// Absolute differences of samples taken at the same times, in rising order.
std::vector<double> differences(const std::vector<double>&, const std::vector<double>&);

/// A scenario cut to its first `days`.
Scenario first_days(const std::string& path, int days);

/// `seconds` for a span, per year of 365 days.
double seconds_per_year(double seconds, Tick span);

}  // namespace overwinter
