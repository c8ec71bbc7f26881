#include "tests/property/support/random_instrument.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace overwinter::test {

namespace {

struct Chemistry {
  std::string cell, charger, protector;
};

Chemistry any_chemistry(Dice& dice) {
  return dice.pick({Chemistry{"nmc-18650-3000mah", "charger-linear-100ma", "protector-2a5-voltage"},
                    Chemistry{"nmc-18650-3000mah", "charger-linear-500ma", "protector-2a5-charge-release"},
                    Chemistry{"nmc-pouch-1200mah", "charger-linear-100ma", "protector-2a5-charge-release"},
                    Chemistry{"lfp-18650-1500mah", "charger-linear-lfp-100ma", "protector-2a5-lfp"}});
}

struct Supply {
  std::string boost, controller;
  double least, most;  ///< V, of what a load asks for
};

const Supply direct{"", "controller-32bit-3v3", 1.8, 2.9};

Supply any_supply(Dice& dice) {
  return dice.pick({Supply{"boost-5v-1a", "controller-8bit-5v", 2.5, 4.4},
                    Supply{"boost-5v-500ma-disconnect", "controller-8bit-5v", 2.5, 4.4},
                    Supply{"boost-3v3-300ma", "controller-32bit-3v3", 1.8, 3.0}});
}

std::string any_cell(Dice& dice, Netlist& n, const Chemistry& chemistry, double charge, double low, double high) {
  const double milliampere_hours = dice.scale(low, high), self_discharge = dice.between(0, 5);
  n.capacity = milliampere_hours * 3.6;
  n.self_discharge = self_discharge / 100 / month;
  return fmt::format("cell: {{part: {}, capacity: {:.2f} mAh, charge: {:.1f} %, self_discharge: {:.3f} %/month}}",
                     chemistry.cell, milliampere_hours, charge, self_discharge);
}

std::string any_diode(Dice& dice) { return dice.pick<std::string>({"schottky-1a-40v", "schottky-200ma-30v"}); }
std::string any_switch(Dice& dice) {
  return fmt::format(
      "{{part: {}, gate_pull_up: {:.3f} Mohm}}",
      dice.pick<std::string>({"p-switch-logic-30mohm", "p-switch-standard-120mohm", "p-switch-soft-30mohm"}),
      dice.scale(0.1, 10));
}
std::string any_clock(Dice& dice, int latest) {
  std::string backup;
  if (dice.chance(0.2)) backup = fmt::format(", backup_charge: {} %", dice.whole(1, 100));
  return fmt::format("{{part: {}, first_alarm: {} s{}}}",
                     dice.pick<std::string>({"clock-crystal", "clock-compensated"}), dice.whole(1, latest), backup);
}

std::string any_policy(Dice& dice) {
  const int every = static_cast<int>(dice.scale(300, 14400));
  switch (dice.whole(0, 2)) {
    case 0:
      return fmt::format("{{every: {} s}}", every);
    case 1:
      return fmt::format("{{hysteresis: {:.1f} mV, table: [{{below: {:.3f} V, every: {} s}}, {{every: {} s}}]}}",
                         dice.between(5, 150), dice.between(3.0, 4.0), static_cast<int>(dice.scale(3600, 43200)),
                         every);
    default: {
      const double low = dice.between(2.9, 3.4), high = dice.between(3.45, 3.9);
      return fmt::format(
          "{{hysteresis: 50 mV, table: [{{below: {:.3f} V, every: {} s}}, {{below: {:.3f} V, every: {} s}}, {{every: "
          "{} s}}]}}",
          low, 12 * every, high, 4 * every, every);
    }
  }
}

/// A panel and the part of its string that leads to the charger's input.
void add_panel(Dice& dice, Netlist& n, int i, std::vector<std::string>& sun, std::vector<std::string>& gnd) {
  const std::string name = fmt::format("panel{}", i);
  const std::string placed =
      fmt::format("tilt: {:.1f} deg, azimuth: {:.1f} deg, transmittance: {:.1f} %{}", dice.between(0, 90),
                  dice.between(0, 360), dice.between(15, 100), dice.chance(0.3) ? ", sky: isotropic" : "");
  if (dice.chance(0.7)) {
    n.parts.push_back(fmt::format("{}: {{part: {}, {}}}", name,
                                  dice.pick<std::string>({"panel-6v-100ma", "panel-6v-330ma"}), placed));
  } else {
    n.parts.push_back(fmt::format("{}: {{model: panel, label_voltage: {:.2f} V, label_current: {:.2f} mA, {}}}", name,
                                  dice.between(5, 9.5), dice.scale(20, 600), placed));
  }
  gnd.push_back(name + ".minus");
  if (dice.chance(0.85)) {
    n.parts.push_back(fmt::format("diode{}: {{part: {}}}", i, any_diode(dice)));
    n.nets.push_back({name + "+", {name + ".plus", fmt::format("diode{}.anode", i)}});
    sun.push_back(fmt::format("diode{}.cathode", i));
  } else {
    sun.push_back(name + ".plus");
  }
}

std::string any_capacitor(Dice& dice) {
  switch (dice.whole(0, 3)) {
    case 0:
      return "{part: ceramic-100nf}";
    case 1:
      return "{part: ceramic-100uf}";
    case 2:
      return "{part: electrolytic-470uf}";
    default:
      return fmt::format("{{part: {}, capacitance: {:.2f} uF}}",
                         dice.pick<std::string>({"ceramic-100uf", "electrolytic-470uf"}), dice.scale(5, 1500));
  }
}

std::string any_load(Dice& dice, const Supply& supply, double most_watts) {
  std::string law;
  switch (dice.whole(0, 2)) {
    case 0:
      law = fmt::format("kind: power, power: {:.2f} mW", dice.scale(1, most_watts * 1e3));
      break;
    case 1:
      law = fmt::format("kind: current, current: {:.3f} mA", dice.scale(0.1, 60));
      break;
    default:
      law = fmt::format("kind: resistance, resistance: {:.2f} ohm", dice.scale(100, 50000));
  }
  return fmt::format("{{model: load, {}, minimum_supply: {:.2f} V", law, dice.between(supply.least, supply.most));
}

std::string any_phases(Dice& dice, int outputs) {
  std::string phases;
  for (int i = 0, count = dice.whole(1, 4); i < count; ++i) {
    std::string on;
    for (int o = 1; o <= outputs; ++o) {
      if (i == 0 || dice.chance(0.5)) on += fmt::format(", out_{}: true", o);  // each is driven by one phase at least
    }
    const std::string draws = dice.chance(0.5) ? fmt::format("current: {:.3f} mA", dice.scale(0.05, 40))
                                               : fmt::format("power: {:.3f} mW", dice.scale(0.5, 150));
    phases += fmt::format("{}{{name: p{}, duration: {:.4f} s, {}{}}}", i ? ", " : "", i,
                          dice.scale(0.005, i == count - 1 ? 120 : 20), draws, on);
  }
  return "[" + phases + "]";
}

std::string day(int number) {  // of 2024, from 0
  static constexpr int lengths[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  int year = 2024, month_of_year = 0;
  for (; number >= lengths[month_of_year % 12]; ++month_of_year) number -= lengths[month_of_year % 12];
  return fmt::format("{}-{:02}-{:02}", year + month_of_year / 12, month_of_year % 12 + 1, number + 1);
}

}  // namespace

double Dice::scale(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }

std::string Netlist::text() const {
  std::string t = fmt::format("scenario: {}\n", name);
  if (!site.empty()) t += "site: " + site + "\n";
  t += fmt::format("span: {{from: {}, to: {}}}\nweather: {}\npolicy: {}\nparts:\n", from, to, weather, policy);
  for (const std::string& part : parts) t += "  " + part + "\n";
  t += "nets:\n";
  for (const auto& [net, pins] : nets) t += fmt::format("  {}: [{}]\n", net, fmt::join(pins, ", "));
  t += "lines:\n";
  for (const std::string& line : lines) t += "  " + line + "\n";
  return t;
}

void Netlist::shuffle(std::mt19937& random) {
  std::shuffle(parts.begin(), parts.end(), random);
  std::shuffle(lines.begin(), lines.end(), random);
  std::shuffle(nets.begin(), nets.end(), random);
  for (auto& [net, pins] : nets) std::shuffle(pins.begin(), pins.end(), random);
}

Netlist plain_instrument(Dice& dice, double charge) {
  Netlist n;
  const Chemistry chemistry = any_chemistry(dice);
  const Supply supply = any_supply(dice);
  n.to = dice.chance(0.125) ? "2025-03-02" : "2025-03-01";
  n.policy = dice.chance(0.5)
                 ? fmt::format("{{every: {} min}}", dice.whole(10, 120))
                 : fmt::format("{{hysteresis: 50 mV, table: [{{below: {:.3f} V, every: 3 h}}, {{every: {} min}}]}}",
                               dice.between(3.0, 4.0), dice.whole(10, 60));
  n.parts = {
      fmt::format(
          "panel: {{model: panel, label_voltage: 6 V, label_current: {:.1f} mA, tilt: 30 deg, azimuth: 90 deg}}",
          dice.scale(20, 500)),
      "diode: {part: " + any_diode(dice) + "}",
      "charger: {part: " + chemistry.charger + "}",
      any_cell(dice, n, chemistry, charge, 300, 6000),
      fmt::format("lead: {{model: resistor, resistance: {:.4f} ohm}}", dice.scale(0.01, 0.5)),
      "guard: {part: " + chemistry.protector + "}",
      "monitor: {part: " + dice.pick<std::string>({"monitor-12bit-100mohm", "monitor-16bit-20mohm"}) + "}",
      "boost: {part: " + supply.boost + "}",
      "clock: " + any_clock(dice, 3600),
      fmt::format("switch: {{part: {}, gate_pull_up: {:.3f} Mohm}}",
                  dice.pick<std::string>({"p-switch-logic-30mohm", "p-switch-standard-120mohm"}), dice.scale(0.1, 10)),
      fmt::format("reservoir: {{part: {}, capacitance: {:.1f} uF}}",
                  dice.pick<std::string>({"electrolytic-470uf", "ceramic-100uf"}), dice.scale(20, 1000)),
      fmt::format(
          "logger: {{part: {}, phases: [{{name: measure, duration: {:.3f} s, current: {:.2f} mA, out_1: true}}, "
          "{{name: store, duration: {:.3f} s, power: {:.2f} mW}}, "
          "{{name: send, duration: {:.3f} s, current: {:.2f} mA, out_2: true}}]}}",
          supply.controller, dice.scale(0.1, 20), dice.between(1, 20), dice.scale(0.05, 2), dice.between(5, 100),
          dice.scale(1, 60), dice.between(1, 20)),
      fmt::format("probe: {{model: load, kind: current, current: {:.2f} mA, minimum_supply: 2.5 V}}",
                  dice.between(1, 30)),
      fmt::format("radio: {{model: load, kind: power, power: {:.3f} W, minimum_supply: {} V}}", dice.scale(0.02, 1.5),
                  supply.controller == direct.controller ? "2.8" : "4.2")};
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

Netlist random_instrument(std::uint64_t number, const std::string& source) {
  Dice dice(number * 0x9e3779b97f4a7c15u + 1);
  Netlist n;
  n.name = fmt::format("random {}", number);
  const int first = dice.whole(0, 365);
  n.from = day(first);
  n.to = day(first + dice.whole(2, 9));
  if (dice.chance(0.5)) {
    n.weather = fmt::format("{{file: {}/scenarios/peat-bog.epw}}", source);
  } else {
    n.weather =
        fmt::format("{{synthetic: {}/tools/weather_maker/upland-bog.yaml, seed: {}}}", source, dice.whole(1, 1000));
    n.site = "{latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}";
  }
  n.policy = any_policy(dice);

  const Chemistry chemistry = any_chemistry(dice);
  const bool without_converter = chemistry.charger == "charger-linear-lfp-100ma" && dice.chance(0.3);
  const Supply supply = without_converter ? direct : any_supply(dice);
  const bool switch_first = !without_converter && dice.chance(0.3);  // before the converter
  std::vector<std::string> gnd = {"cell.minus", "charger.ground", "monitor.ground", "clock.ground", "logger.ground"};
  std::vector<std::string> sun = {"charger.in"}, pack = {"charger.out", "monitor.in", "clock.supply"};
  std::vector<std::string> feed = {"monitor.out"}, rail, instrument = {"logger.supply", "monitor.supply"};

  for (int i = 0, panels = dice.whole(1, 3); i < panels; ++i) add_panel(dice, n, i, sun, gnd);
  n.parts.push_back("charger: {part: " + chemistry.charger +
                    (dice.chance(0.3) ? fmt::format(", input_minimum: {:.2f} V", dice.between(3.7, 4.5)) : "") + "}");
  const double charge = dice.pick({dice.between(0, 8), dice.between(0, 30), dice.between(30, 100), 100.0});
  n.parts.push_back(any_cell(dice, n, chemistry, charge, 300, 6000));
  std::string cell_pin = "cell.plus";
  if (dice.chance(0.5)) {
    n.parts.push_back(fmt::format("lead: {{model: resistor, resistance: {:.4f} ohm}}", dice.scale(0.01, 0.5)));
    n.nets.push_back({"cell-tab", {cell_pin, "lead.a"}});
    cell_pin = "lead.b";
  }
  if (dice.chance(0.85)) {
    n.parts.push_back("guard: {part: " + chemistry.protector + "}");
    n.nets.push_back({"guarded", {cell_pin, "guard.cell"}});
    gnd.push_back("guard.ground");
    cell_pin = "guard.pack";
  }
  pack.push_back(cell_pin);
  n.parts.push_back("monitor: {part: " + dice.pick<std::string>({"monitor-12bit-100mohm", "monitor-16bit-20mohm"}) +
                    "}");
  n.parts.push_back("clock: " + any_clock(dice, 20000));
  n.parts.push_back("switch: " + any_switch(dice));
  std::string gate_net = "feed";
  if (!without_converter) {
    n.parts.push_back("boost: {part: " + supply.boost + "}");
    gnd.push_back("boost.ground");
  }
  if (switch_first) {
    feed.push_back("switch.source");
    rail = {"switch.drain", "boost.in"};
    instrument.push_back("boost.out");
  } else {
    if (without_converter) {
      feed.push_back("switch.source");
    } else {
      feed.push_back("boost.in");
      rail = {"boost.out", "switch.source"};
      gate_net = "rail";
    }
    instrument.push_back("switch.drain");
  }

  const int loads = dice.whole(1, 4);
  n.parts.push_back(fmt::format("logger: {{part: {}, phases: {}}}", supply.controller, any_phases(dice, loads)));
  std::vector<std::string> behind;  // a second switch
  if (dice.chance(0.2)) {
    n.parts.push_back("switch2: " + any_switch(dice));
    n.parts.push_back("stage: {part: n-stage-5ohm}");
    gnd.push_back("stage.ground");
    instrument.push_back("switch2.source");
    behind.push_back("switch2.drain");
    n.lines.push_back("load-on: {from: logger.out_1, to: stage.input}");
    n.lines.push_back(
        fmt::format("load-gate: {{from: stage.drain, to: switch2.gate, pull_up: {{net: instrument+, resistance: "
                    "{:.1f} kohm, series: 10 kohm}}}}",
                    dice.scale(20, 500)));
  }
  for (int i = 1; i <= loads; ++i) {
    const std::string name = fmt::format("load{}", i);
    std::string part = any_load(dice, supply, 1.5);
    gnd.push_back(name + ".minus");
    const bool on_second = !behind.empty() && (i == 1 || dice.chance(0.3));
    const bool always = !on_second && !rail.empty() && !switch_first && dice.chance(0.1);
    if (always) {  // on the rail, by a time of day of its own
      part = any_load(dice, supply, 0.02);
      part += fmt::format(", daily: {{time: 0 {} {} h, level: 0 1 0}}", dice.whole(1, 11), dice.whole(12, 23));
      rail.push_back(name + ".plus");
    } else {
      (on_second ? behind : instrument).push_back(name + ".plus");
    }
    if (!(i == 1 && !behind.empty()) && !always) {
      n.lines.push_back(fmt::format("{0}-on: {{from: logger.out_{1}, to: {0}.enable}}", name, i));
    }
    n.parts.push_back(name + ": " + part + "}");
  }
  for (int i = 0, stores = dice.whole(0, 3); i < stores; ++i) {
    const std::string name = fmt::format("store{}", i);
    n.parts.push_back(name + ": " + any_capacitor(dice));
    gnd.push_back(name + ".minus");
    std::vector<std::string>* net = &instrument;
    if (!behind.empty() && dice.chance(0.4)) {
      net = &behind;
    } else if (dice.chance(0.4)) {
      net = rail.empty() || dice.chance(0.5) ? &pack : &rail;
    }
    net->push_back(name + ".plus");
  }
  n.nets.push_back({"sun", sun});
  n.nets.push_back({"pack+", pack});
  n.nets.push_back({"feed", feed});
  if (!rail.empty()) n.nets.push_back({"rail", rail});
  n.nets.push_back({"instrument+", instrument});
  if (!behind.empty()) n.nets.push_back({"load+", behind});
  n.nets.push_back({"gnd", gnd});
  n.lines.push_back("cell-temperature: {from: cell.temperature, to: charger.temperature}");
  n.lines.push_back(fmt::format(
      "wake: {{from: clock.interrupt, to: switch.gate, pull_up: {{net: {}, resistance: {:.3f} Mohm{}}}}}", gate_net,
      dice.scale(0.1, 10), dice.chance(0.3) ? fmt::format(", series: {:.2f} kohm", dice.scale(1, 100)) : ""));
  n.lines.push_back("bus: {from: logger.bus, to: clock.bus}");
  n.lines.push_back("battery: {from: monitor.voltage, to: logger.reading}");
  return n;
}

}  // namespace overwinter::test
