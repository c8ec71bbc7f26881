// Clock, controller and power monitor with the ranges in which a test picks operating points at random.
#pragma once

#include <limits>
#include <memory>
#include <utility>
#include <vector>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/policy.hpp"
#include "tests/models/support/example.hpp"

namespace overwinter::test {

/// 220 mAh: a lithium coin cell of 20 mm, class data of IEC 60086-2.
inline ClockParameters clock_with_coin_cell() {
  ClockParameters p;
  p.backup_capacity = Charge{0.22 * 3600};
  return p;
}

/// Three rows, 50 mV of hysteresis.
inline std::shared_ptr<const Policy> three_row_policy() {
  PolicyParameters p;
  p.table = {{Voltage{3.5}, Duration{21600}}, {Voltage{3.75}, Duration{3600}}, {std::nullopt, Duration{600}}};
  p.hysteresis = Voltage{0.05};
  std::vector<Finding> findings;
  return Policy::build(p, findings);
}

/// A small controller whose wake measures, computes and sends. Thresholds that are exact in binary.
inline ControllerParameters measuring_controller() {
  ControllerParameters p;
  p.minimum_supply = Voltage{1.875};
  p.maximum_supply = Voltage{5.5};
  p.brownout_threshold = Voltage{2.75};
  p.brownout_hysteresis = Voltage{0.125};
  p.reset_rearm = Voltage{0.75};
  p.boot_time = Duration{0.065};
  p.boot_current = Current{0.012};
  p.idle_current = Current{0.008};
  ControllerPhase measure, compute, send;
  measure.name = "measure";
  measure.duration = Duration{2.0};
  measure.current = Current{0.005};
  measure.out_1 = true;
  compute.name = "compute";
  compute.duration = Duration{1.234567891};
  compute.current = Current{0.02};
  send.name = "send";
  send.duration = Duration{1.5};
  send.power = Power{0.4};
  send.out_1 = send.out_2 = send.out_4 = true;
  p.phases = {measure, compute, send};
  p.policy = three_row_policy();
  return p;
}

inline std::vector<Example> control_examples() {
  constexpr int many = 1'000'000;
  const double nothing = std::numeric_limits<double>::quiet_NaN();
  const Range unconnected{nothing, nothing};
  std::vector<Example> all;

  const std::vector<int> clock_memory{1, many, 1, 1, std::numeric_limits<int>::max(), many, 2};
  const std::vector<std::pair<const char*, std::vector<Range>>> clock_pins{
      {"clock, anywhere", {{-1, 6}, {-0.5, 0.5}, {-1, 6}}},
      {"clock, switch-over", {{2.05, 2.25}, {-0.01, 0.01}, {0, 3.3}}},
  };
  for (const ClockParameters& p : {clock_with_coin_cell(), ClockParameters{}}) {
    const auto clock = build<Clock>(p).model;
    const std::vector<Range> charge{{0, 0.22 * 3600}};
    for (const auto& [label, pins] : clock_pins) {
      all.push_back({label, clock, pins, {}, charge, {{3, 3}, {600, 600}, {1, 1}, {0, 0}}, clock_memory});
      all.push_back({label, clock, pins, {}, charge, {{many, many}, {1, 1}, {0, 0}, {90, 90}}, clock_memory});
    }
    const std::vector<Range> no_bus{unconnected, unconnected, unconnected, unconnected};
    all.push_back({"clock, no bus", clock, clock_pins[0].second, {}, charge, no_bus, clock_memory});
  }

  const ControllerParameters detecting = measuring_controller();
  ControllerParameters blind = measuring_controller();
  blind.brownout_detector = false;
  const std::vector<int> controller_memory{Controller::mode_count - 1, 2, many, 3, many, 366 * 86400, 14};
  const std::vector<Range> reading{{2.5, 4.5}, {0, 0.01}, {0, 0.004}, {0, 1e9}};
  for (const ControllerParameters& p : {detecting, blind}) {
    const auto controller = build<Controller>(p).model;
    const std::vector<Range> wide{{-1, 6}, {-0.3, 0.3}}, narrow{{1.8, 3.0}, {-0.02, 0.02}};
    const std::vector<Range> pin{{-1, 6}};
    all.push_back({"controller, anywhere", controller, wide, {}, pin, reading, controller_memory, true});
    all.push_back({"controller, thresholds", controller, narrow, {}, pin, reading, controller_memory, true});
    all.push_back({"controller, in a transient", controller, wide, {}, pin, reading, controller_memory, false, true});
    const std::vector<Range> no_reading{unconnected, unconnected, unconnected, unconnected};
    all.push_back({"controller, no reading", controller, wide, {}, pin, no_reading, controller_memory, true});
  }

  PowerMonitorParameters poor;
  poor.shunt = Resistance{2.0};
  poor.voltage_offset = Voltage{-0.01};
  poor.voltage_noise = Voltage{3e-3};
  poor.shunt_offset = Voltage{50e-6};
  poor.gain_error = 0.02;
  for (const PowerMonitorParameters& p : {PowerMonitorParameters{}, poor}) {
    const auto monitor = build<PowerMonitor>(p).model;
    all.push_back({"power monitor, anywhere", monitor, {{-1, 6}, {-1, 6}, {-1, 6}, {-0.3, 0.3}}, {}, {}, {}, {}, true});
    all.push_back(
        {"power monitor, supply going", monitor, {{3.9, 4.1}, {3.9, 4.1}, {2.3, 2.8}, {0, 0}}, {}, {}, {}, {}, true});
  }
  return all;
}

}  // namespace overwinter::test
