#include "tests/acceptance/support/switch_on_matrix.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/engine/transient.hpp"
#include "sim/replay/replay.hpp"
#include "tests/support/scratch.hpp"
#include "tools/benchmark/cvode_stepper.hpp"

namespace overwinter::test {

namespace {

constexpr Tick second = ticks_per_second, microsecond = 1000;
constexpr int wakes_wanted = 10;
constexpr double fine = 4e-10;  // of each state's scale, 50 V: 20 nV

struct Kind {
  std::string name, text;
};

const Kind side_kinds[] = {{"before", ""}, {"behind", ""}};
struct ConverterKind {
  std::string part, controller;
};
const ConverterKind converter_kinds[] = {{"boost-5v-1a", "controller-8bit-5v"},
                                         {"boost-5v-500ma-disconnect", "controller-8bit-5v"},
                                         {"boost-3v3-300ma", "controller-32bit-3v3"}};
const Kind cell_kinds[] = {{"NMC full", "{part: nmc-18650-3000mah, charge: 100 %}"},
                           {"LFP 30 %", "{part: lfp-18650-1500mah, charge: 30 %}"}};
const Kind store_kinds[] = {{"no store", ""},
                            {"0.1 uF", "{model: capacitor, capacitance: 0.1 uF, series_resistance: 20 mohm}"},
                            {"1 uF", "{model: capacitor, capacitance: 1 uF, series_resistance: 10 mohm}"},
                            {"10 uF", "{model: capacitor, capacitance: 10 uF, series_resistance: 5 mohm}"},
                            {"100 uF", "{part: ceramic-100uf}"},
                            {"470 uF", "{part: electrolytic-470uf}"}};
constexpr int boot_times[] = {1, 10, 80, 200};  // ms
struct GateKind {
  std::string name, part, series;
};
// The time constant of the series resistor with the gate's capacitance, 1.2 nF or 48.2 nF.
const GateKind gate_kinds[] = {{"1 us", "p-switch-logic-30mohm", "830 ohm"},
                               {"30 us", "p-switch-logic-30mohm", "25 kohm"},
                               {"1 ms", "p-switch-soft-30mohm", "20.7 kohm"},
                               {"5 ms", "p-switch-soft-30mohm", "104 kohm"}};

/// One December for all of them.
const Weather& weather(const Scenario& scenario) {
  static const Weather one = weather_of(scenario, std::nullopt);
  return one;
}

class WakeLog final : public RunWatcher {
 public:
  explicit WakeLog(Tick window) : window_(window) {}
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    const EventRole role = h.event ? h.event->role : EventRole::none;
    if (role == EventRole::alarm_due) {
      wakes.emplace_back();
      wakes.back().alarm = h.time;
    }
    if (wakes.empty() || h.time > wakes.back().alarm + window_) return;
    if (role == EventRole::wake_completed) wakes.back().completed = true;
    if (role == EventRole::cut || role == EventRole::brown_out) {
      // With the switch before the converter a wake ends with its lockout.
      if (!wakes.back().completed) wakes.back().failures.insert(h.part_name() + ", " + h.event_name());
    }
  }
  std::vector<WakeOutcome> wakes;

 private:
  Tick window_;
};

}  // namespace

SwitchOn switch_on(std::size_t place) {
  SwitchOn s;
  const auto take = [&place](std::size_t of) {
    const std::size_t digit = place % of;
    place /= of;
    return digit;
  };
  s.gate = take(gates);
  s.boot = take(boots);
  s.store = take(stores);
  s.cell = take(cells);
  s.converter = take(converters);
  s.side = take(sides);
  return s;
}

std::string SwitchOn::text() const {
  return fmt::format("switch {} {}, {}, {}, boot {} ms, gate {}", side_kinds[side].name,
                     converter_kinds[converter].part, cell_kinds[cell].name, store_kinds[store].name, boot_times[boot],
                     gate_kinds[gate].name);
}

std::string SwitchOn::yaml(const std::string& weather_file) const {
  const bool before = side == 0, has_store = store > 0;
  const std::string load = std::string("logger.supply") + (has_store ? ", store.plus" : "");
  std::string y =
      "scenario: a cell of the matrix of switch-ons\n"
      "site: {latitude: 56 deg, longitude: -5 deg, elevation: 400 m, utc_offset: 0 h}\n"
      "span: {from: 2024-12-01, to: 2024-12-01}\n";
  y += "weather: {file: " + weather_file + "}\nparts:\n";
  y += "  cell: " + cell_kinds[cell].text + "\n";
  y += "  boost: {part: " + converter_kinds[converter].part + "}\n";
  y += "  clock: {part: clock-crystal, first_alarm: 60 s}\n";
  y += "  switch: {part: " + gate_kinds[gate].part + ", gate_pull_up: 1 Mohm}\n";
  if (has_store) y += "  store: " + store_kinds[store].text + "\n";
  y += fmt::format(
      "  logger:\n    part: {}\n    boot_time: {} ms\n    phases:\n"
      "      - {{name: measure, duration: 50 ms, current: 8 mA}}\n"
      "      - {{name: send, duration: 20 ms, current: 100 mA}}\n",
      converter_kinds[converter].controller, boot_times[boot]);
  y += "nets:\n";
  if (before) {
    y += "  cell+: [cell.plus, clock.supply, switch.source]\n  feed: [switch.drain, boost.in]\n";
    y += "  rail: [boost.out, " + load + "]\n";
  } else {
    y += "  cell+: [cell.plus, clock.supply, boost.in]\n  rail: [boost.out, switch.source]\n";
    y += "  load+: [switch.drain, " + load + "]\n";
  }
  y += std::string("  gnd: [cell.minus, clock.ground, boost.ground, logger.ground") +
       (has_store ? ", store.minus" : "") + "]\nlines:\n";
  y += fmt::format(
      "  wake: {{from: clock.interrupt, to: switch.gate, pull_up: {{net: {}, resistance: 1 Mohm, series: {}}}}}\n",
      before ? "cell+" : "rail", gate_kinds[gate].series);
  y += "  bus: {from: logger.bus, to: clock.bus}\npolicy: {every: 60 s}\n";
  return y;
}

std::string WakeOutcome::text() const {
  std::string all = completed ? "completed" : "not completed";
  for (const std::string& f : failures) all += "; " + f;
  return all;
}

MatrixBench::MatrixBench(const SwitchOn& s) {
  const Scratch scratch;
  scenario_ =
      read_scenario(scratch.write("cell.yaml", s.yaml(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.epw")));
  diagram_ = std::make_unique<Diagram>(scenario_);
  window_ = (boot_times[s.boot] + 300) * 1000 * microsecond;
}

std::vector<WakeOutcome> MatrixBench::wakes(bool look_closer) const {
  WakeLog log(window_);
  SimulatorOptions options;
  options.look_closer = look_closer;
  Simulator run(*diagram_, weather(scenario_), options, &log);
  Context c = run.start();
  run.advance(c, weather(scenario_).begin() + 61 * (wakes_wanted + 1) * second);
  log.wakes.resize(std::min<std::size_t>(log.wakes.size(), wakes_wanted));
  return log.wakes;
}

WakeOutcome MatrixBench::integrated(Tick alarm) const {
  SimulatorOptions settled_options;
  settled_options.look_closer = true;
  WakeLog unheard(window_);
  Simulator settled(*diagram_, weather(scenario_), settled_options, &unheard);
  Context c = settled.start();
  settled.advance(c, alarm - 20 * microsecond);
  SimulatorOptions options = transient_options({});
  options.tolerance = fine;
  options.make_stepper = [](const StepperSettings& s) { return make_cvode_stepper(s, CvodeVariant::bdf); };
  WakeLog log(window_);
  Simulator transient(*diagram_, weather(scenario_), options, &log);
  Context inside = enter_transient(settled, transient, c);
  transient.advance(inside, alarm + window_);
  return log.wakes.empty() ? WakeOutcome{} : log.wakes.front();
}

}  // namespace overwinter::test
