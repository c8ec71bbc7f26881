// Random whole instruments (RapidCheck): panel to radio, as the text of a scenario.
#pragma once

#include <fmt/format.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace overwinter::test {

constexpr double month = 2629743.83;  // s, a twelfth of the tropical year

/// The text of a scenario, kept as pieces that may stand in any order.
struct Netlist {
  std::vector<std::string> parts, lines;
  std::vector<std::pair<std::string, std::vector<std::string>>> nets;
  std::string policy, to;
  double capacity = 0;        ///< A s
  double self_discharge = 0;  ///< share per second at 25 degC

  std::string text(const std::string& weather) const {
    std::string t = "scenario: random\nspan: {from: 2025-03-01, to: " + to + "}\nweather: {file: " + weather +
                    "}\npolicy: " + policy + "\nparts:\n";
    for (const std::string& part : parts) t += "  " + part + "\n";
    t += "nets:\n";
    for (const auto& [name, pins] : nets) t += fmt::format("  {}: [{}]\n", name, fmt::join(pins, ", "));
    t += "lines:\n";
    for (const std::string& line : lines) t += "  " + line + "\n";
    return t;
  }

  void shuffle(std::mt19937& random) {
    std::shuffle(parts.begin(), parts.end(), random);
    std::shuffle(lines.begin(), lines.end(), random);
    std::shuffle(nets.begin(), nets.end(), random);
    for (auto& [name, pins] : nets) std::shuffle(pins.begin(), pins.end(), random);
  }
};

/// A uniformly distributed number.
inline double any(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 1001) / 1000.0; }
/// One whose logarithm is uniformly distributed.
inline double any_scale(double low, double high) { return std::exp(any(std::log(low), std::log(high))); }

struct Chemistry {
  std::string cell, charger, protector;
};
struct Supply {
  std::string boost, controller, radio_minimum;
};

/// `charge`: of the cell at the start, %.
inline Netlist any_instrument(double charge) {
  Netlist n;
  const Chemistry chemistry =
      *rc::gen::element(Chemistry{"nmc-18650-3000mah", "charger-linear-100ma", "protector-2a5-voltage"},
                        Chemistry{"nmc-18650-3000mah", "charger-linear-500ma", "protector-2a5-charge-release"},
                        Chemistry{"nmc-pouch-1200mah", "charger-linear-100ma", "protector-2a5-charge-release"},
                        Chemistry{"lfp-18650-1500mah", "charger-linear-lfp-100ma", "protector-2a5-lfp"});
  const Supply supply = *rc::gen::element(Supply{"boost-5v-1a", "controller-8bit-5v", "4.2"},
                                          Supply{"boost-5v-500ma-disconnect", "controller-8bit-5v", "4.2"},
                                          Supply{"boost-3v3-300ma", "controller-32bit-3v3", "2.8"});
  const double milliampere_hours = any_scale(300, 6000), self_discharge = any(0, 5);
  n.capacity = milliampere_hours * 3.6;
  n.self_discharge = self_discharge / 100 / month;
  n.to = *rc::gen::weightedElement<std::string>({{7, "2025-03-01"}, {1, "2025-03-02"}});
  n.policy = *rc::gen::arbitrary<bool>()
                 ? fmt::format("{{every: {} min}}", *rc::gen::inRange(10, 121))
                 : fmt::format("{{hysteresis: 50 mV, table: [{{below: {:.3f} V, every: 3 h}}, {{every: {} min}}]}}",
                               any(3.0, 4.0), *rc::gen::inRange(10, 61));
  n.parts = {
      fmt::format(
          "panel: {{model: panel, label_voltage: 6 V, label_current: {:.1f} mA, tilt: 30 deg, azimuth: 90 deg}}",
          any_scale(20, 500)),
      "diode: {part: " + *rc::gen::element<std::string>("schottky-1a-40v", "schottky-200ma-30v") + "}",
      "charger: {part: " + chemistry.charger + "}",
      fmt::format("cell: {{part: {}, capacity: {:.2f} mAh, charge: {:.1f} %, self_discharge: {:.3f} %/month}}",
                  chemistry.cell, milliampere_hours, charge, self_discharge),
      fmt::format("lead: {{model: resistor, resistance: {:.4f} ohm}}", any_scale(0.01, 0.5)),
      "guard: {part: " + chemistry.protector + "}",
      "monitor: {part: " + *rc::gen::element<std::string>("monitor-12bit-100mohm", "monitor-16bit-20mohm") + "}",
      "boost: {part: " + supply.boost + "}",
      fmt::format("clock: {{part: {}, first_alarm: {} s}}",
                  *rc::gen::element<std::string>("clock-crystal", "clock-compensated"), *rc::gen::inRange(1, 3600)),
      fmt::format("switch: {{part: {}, gate_pull_up: {:.3f} Mohm}}",
                  *rc::gen::element<std::string>("p-switch-logic-30mohm", "p-switch-standard-120mohm"),
                  any_scale(0.1, 10)),
      fmt::format("reservoir: {{part: {}, capacitance: {:.1f} uF}}",
                  *rc::gen::element<std::string>("electrolytic-470uf", "ceramic-100uf"), any_scale(20, 1000)),
      fmt::format(
          "logger: {{part: {}, phases: [{{name: measure, duration: {:.3f} s, current: {:.2f} mA, out_1: true}}, "
          "{{name: store, duration: {:.3f} s, power: {:.2f} mW}}, "
          "{{name: send, duration: {:.3f} s, current: {:.2f} mA, out_2: true}}]}}",
          supply.controller, any_scale(0.1, 20), any(1, 20), any_scale(0.05, 2), any(5, 100), any_scale(1, 60),
          any(1, 20)),
      fmt::format("probe: {{model: load, kind: current, current: {:.2f} mA, minimum_supply: 2.5 V}}", any(1, 30)),
      fmt::format("radio: {{model: load, kind: power, power: {:.3f} W, minimum_supply: {} V}}", any_scale(0.02, 1.5),
                  supply.radio_minimum)};
  n.nets = {{"panel+", {"panel.plus", "diode.anode"}},
            {"sun", {"diode.cathode", "charger.in"}},
            {"pack+", {"charger.out", "guard.pack", "monitor.in", "clock.supply"}},
            {"guarded+", {"guard.cell", "lead.a"}},
            {"cell+", {"lead.b", "cell.plus"}},
            {"feed", {"monitor.out", "boost.in"}},
            {"rail", {"boost.out", "switch.source"}},
            {"instrument+",
             {"switch.drain", "logger.supply", "monitor.supply", "reservoir.plus", "probe.plus", "radio.plus"}},
            {"gnd",
             {"panel.minus", "charger.ground", "cell.minus", "guard.ground", "monitor.ground", "boost.ground",
              "clock.ground", "reservoir.minus", "logger.ground", "probe.minus", "radio.minus"}}};
  n.lines = {"cell-temperature: {from: cell.temperature, to: charger.temperature}",
             "wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 1 Mohm}}",
             "bus: {from: logger.bus, to: clock.bus}",
             "battery: {from: monitor.voltage, to: logger.reading}",
             "probe-on: {from: logger.out_1, to: probe.enable}",
             "radio-on: {from: logger.out_2, to: radio.enable}"};
  return n;
}

}  // namespace overwinter::test
