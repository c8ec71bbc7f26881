// Examples of every model of the catalogue with the ranges in which a test picks operating points at random.
#pragma once

#include <string>
#include <vector>

#include "tests/models/support/boost_examples.hpp"
#include "tests/models/support/capacitor_examples.hpp"
#include "tests/models/support/control_examples.hpp"
#include "tests/models/support/example.hpp"
#include "tests/models/support/examples.hpp"
#include "tests/models/support/p_switch_examples.hpp"
#include "tests/models/support/protector_examples.hpp"
#include "tests/models/support/random.hpp"
#include "tests/models/support/signal_examples.hpp"

namespace overwinter::test {

inline std::vector<Example> examples() {
  std::vector<Example> all;
  for (const PanelParameters& p : {label_panel(), datasheet_panel()}) {
    all.push_back({"panel", build<Panel>(p).model, {{-1, 9}, {-0.2, 0.2}}, {{-1, 9}}, {}, {}, {}});
  }
  SchottkyParameters steep = signal_schottky();  // no series resistance at all
  steep.series_resistance = Resistance{0.0};
  for (const SchottkyParameters& p : {power_schottky(), signal_schottky(), steep}) {
    all.push_back({"schottky", build<Schottky>(p).model, {{3.0, 4.4}, {2.5, 4.6}}, {{-1, 0.4}}, {}, {}, {}, true});
  }
  all.push_back({"copper wire",
                 build<Resistor>(ResistorParameters{Resistance{0.5}, PerKelvin{0.00393}}).model,
                 {{-5, 5}, {-5, 5}},
                 {},
                 {},
                 {},
                 {},
                 true});

  const std::vector<int> charger_memory{1, 1, 2, 1, 1};
  const std::vector<Range> degrees{{celsius(-20).si(), celsius(60).si()}};
  const auto charger = build<LinearCharger>(charger_100ma()).model;
  const std::vector<std::pair<const char*, std::vector<Range>>> charger_pins{
      {"charger, anywhere", {{-2, 8}, {-1, 5}, {-0.1, 0.1}}},
      {"charger, constant voltage", {{4.3, 6}, {4.195, 4.201}, {-0.0005, 0.0005}}},
      {"charger, weak light", {{3.7, 3.9}, {3.65, 3.7}, {0, 0}}},
      {"charger, lockout", {{3.2, 3.45}, {2.5, 3.3}, {0, 0}}},
      {"charger, all corners", {{4.25, 4.4}, {4.19, 4.2}, {0, 0}}},
  };
  for (const auto& [label, pins] : charger_pins)
    all.push_back({label, charger, pins, {}, {}, degrees, charger_memory, true});
  const double unconnected = std::numeric_limits<double>::quiet_NaN();
  all.push_back({"charger, no temperature",
                 charger,
                 charger_pins[0].second,
                 {},
                 {},
                 {{unconnected, unconnected}},
                 {1, 1, 0, 1, 1},
                 true});

  for (LoadParameters p : {current_load(0.02), power_load(0.08), resistance_load(150)}) {
    p.daily = Curve({0, 21600, 64800}, {0, 1, 0.3}, Interpolation::step, Outside::hold);
    all.push_back({"load", build<Load>(p).model, {{-1, 5}, {-0.5, 0.5}}, {}, {}, {{-1, 1}}, {2}, true});
  }

  const CellParameters pouch = pouch_cell();
  const double full = pouch.capacity.si();
  CellParameters warm_and_cold = pouch;
  warm_and_cold.temperature_coefficient =
      Curve({0, 0.4, 1}, {-0.0004, 0.0002, 0.0001}, Interpolation::monotone, Outside::hold);
  warm_and_cold.series_activation_energy = 0.08 * electronvolt;
  warm_and_cold.pair_2_activation_energy = 0.22 * electronvolt;
  const std::pair<CellParameters, Range> cells[] = {
      {pouch, {-0.1, 1.1}}, {pouch, {0.0, 0.5}}, {warm_and_cold, {-0.03, 0.03}}, {warm_and_cold, {0.0, 1.1}}};
  for (const auto& [parameters, share] : cells) {
    all.push_back(
        {"cell",
         build<Cell>(parameters).model,
         {{2.2, 4.5}, {-0.2, 0.2}},
         {},
         {{share.low * full, share.high * full}, {-0.1, 0.1}, {-0.1, 0.1}, {celsius(-30).si(), celsius(50).si()}},
         {},
         {}});
  }
  for (const std::vector<Example>& more : {boost_examples(), capacitor_examples(), control_examples(),
                                           p_switch_examples(), protector_examples(), signal_examples()}) {
    all.insert(all.end(), more.begin(), more.end());
  }
  return all;
}

/// Weather from polar night to desert noon.
inline Ambient random_weather(Random& random) {
  Ambient a = air(random.between(-40, 55));
  if (random.up_to(3) == 0) return a;  // night
  const double zenith = random.between(0, 89.5);
  a.sky.sun_zenith = zenith * units::degree;
  a.sky.sun_azimuth = random.between(0, 360) * units::degree;
  a.sky.extraterrestrial_normal = Irradiance{1361.0};
  a.sky.beam_normal = Irradiance{random.between(0, 950)};
  a.sky.diffuse_horizontal = Irradiance{random.between(0, 400)};
  a.sky.global_horizontal = a.sky.diffuse_horizontal + a.sky.beam_normal * cos(a.sky.sun_zenith);
  a.sky.albedo = random.between(0, 0.9);
  return a;
}

/// The example somewhere in its ranges; internal unknowns not solved.
inline Alone somewhere(const Example& example, Random& random) {
  Alone part(example.model);
  part.start(random_weather(random));
  const auto pick = [&](const std::vector<Range>& ranges, double* to) {
    for (const Range& r : ranges) *to++ = random.between(r.low, r.high);
  };
  pick(example.pins, part.z.data());
  pick(example.unknowns, part.z.data() + example.pins.size());
  pick(example.states, part.x.data());
  pick(example.lines, part.line.data());
  for (std::size_t i = 0; i < example.memory.size(); ++i) part.memory[i] = random.up_to(example.memory[i]);
  part.transient = example.transient;
  return part;
}

}  // namespace overwinter::test
