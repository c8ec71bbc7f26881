// Balances of random whole instruments (RapidCheck): panel to radio, one or two days of invented light at 20 degC.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "sim/engine/watchers.hpp"
#include "sim/service/service.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

constexpr double month = 2629743.83;             // s, a twelfth of the tropical year
constexpr double solve_rounding = 1e-11;         // W, what a network solve may leave at a rail of 5 V behind 20 mohm
constexpr std::size_t most_happenings = 200000;  // a day has some 150 wakes of some 20; a reset loop more

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
double any(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 1001) / 1000.0; }
/// One whose logarithm is uniformly distributed.
double any_scale(double low, double high) { return std::exp(any(std::log(low), std::log(high))); }

struct Chemistry {
  std::string cell, charger, protector;
};
struct Supply {
  std::string boost, controller, radio_minimum;
};

/// `charge`: of the cell at the start, %.
Netlist any_instrument(double charge) {
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

/// Counts what widens a balance, and integrates the cell's self-discharge at its own temperature.
class Looker final : public RunWatcher {
 public:
  Looker(const DiagramPart& cell, const Netlist& n) : cell_(cell), netlist_(n) {}
  void on_step(Tick reached, const double* state, Evaluator&) override {
    // Doubling per 10 K: equation (6) of the cell; trapezoidal rule on a temperature that hardly moves.
    const double now = netlist_.capacity * netlist_.self_discharge * std::exp2((state[cell_.state + 3] - 298.15) / 10);
    if (before_ != never) {
      self_discharged += (now + rate_) / 2 * static_cast<double>(reached - before_) / ticks_per_second;
    }
    before_ = reached;
    rate_ = now;
    lowest_charge = std::min(lowest_charge, state[cell_.state] / netlist_.capacity);
  }
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (++happenings_ > most_happenings) throw SimulationError(iso_time(h.time, 9) + ": chatter");
    collapses += h.event ? 0 : 1;
  }
  void on_leap(const Leap& leap) override {
    ++leaps;
    unbalanced += leap.unbalanced;
  }

  double self_discharged = 0, lowest_charge = 1;  ///< A s; 0...1
  std::size_t collapses = 0, leaps = 0;
  double unbalanced = 0;  ///< J

 private:
  const DiagramPart& cell_;
  const Netlist& netlist_;
  std::size_t happenings_ = 0;
  Tick before_ = never;
  double rate_ = 0;
};

struct Sums {
  double balance = 0, stored = 0, moved = 0;  ///< J; moved: through the cell, and from the panel
  double in = 0, out = 0;                     ///< A s
};

Sums sums_of(const Diagram& diagram, const Context& c) {
  Sums s;
  for (const DiagramPart& part : diagram.parts()) {
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      const Flow& f = part.table->flows[i];
      const double amount = c.state[diagram.states() + part.flow + i];
      if (f.kind == FlowKind::source) s.balance += amount;
      if (f.kind == FlowKind::source || f.kind == FlowKind::throughput) s.moved += amount;
      if (f.kind == FlowKind::delivered || f.kind == FlowKind::lost) s.balance -= amount;
      if (f.kind == FlowKind::stored) s.stored += amount;
      if (f.name == "charge_in") s.in += amount;
      if (f.name == "charge_out") s.out += amount;
    }
  }
  return s;
}

struct Worst {
  std::size_t runs = 0;
  double ledger = 0, independent = 0, gap = 0;
};

bool finite(const std::vector<double>& numbers) {
  return std::all_of(numbers.begin(), numbers.end(), [](double x) { return std::isfinite(x); });
}

/// Four kinds of weather, by their midday light in W/m2.
const std::vector<int> peaks = {0, 100, 300, 900};

void write_weathers(const test::Scratch& scratch) {
  for (const int peak : peaks) {
    scratch.write_weather(fmt::format("{}.epw", peak), [&](int hour) {
      return hour < 6 || hour > 18 ? 0.0 : std::floor(peak * std::sin((hour - 6) * pi / 12));
    });
  }
}

std::string any_weather() { return fmt::format("{}.epw", *rc::gen::elementOf(peaks)); }

}  // namespace

// Residuals are of the energy that went through the cell or came from the panel. The ledger's is rounding, but
// for what each network solve leaves (measured: 1.6e-12 W). The independent one is within 1e-8 for most instruments. It
// is not where the reservoir discharges in the same way after every wake of a very small load (measured: 9 of 100
// beyond 1e-8, at most 5.6e-7), as its voltage is right to 5e-6 V. The charge's gap is the trapezoidal rule's on the
// self-discharge. Given up are depleted instruments whose protector has opened: with the cell cut off nothing stores
// charge at the pack, and what the panel's light switches on there switches it off again.
TEST_CASE("charge, energy and wakes balance in random instruments") {
  const test::Scratch scratch;
  write_weathers(scratch);
  std::size_t runs = 0, given_up = 0, loose = 0;
  Worst worst[2];
  const bool held = rc::check("balances", [&] {
    const bool depleted = *rc::gen::weightedElement<bool>({{3, false}, {1, true}});
    const Netlist netlist = any_instrument(depleted ? any_scale(1, 4) : any(4, 98));
    const test::Replayed bench(scratch.write("random.yaml", netlist.text(any_weather())));
    const auto cell = std::find_if(bench.diagram.parts().begin(), bench.diagram.parts().end(),
                                   [](const DiagramPart& p) { return p.name == "cell"; });
    Looker looker(*cell, netlist);
    Service service(bench.diagram, bench.weather.begin(), bench.weather.end(), SunnyDays(bench.weather), 3);
    Watchers watchers({&looker, &service});
    Simulator simulator(bench.diagram, bench.weather, {}, &watchers);
    Context c = simulator.start();
    Evaluator& system = simulator.at(c);
    looker.on_step(c.now, c.state.data(), system);
    const double charge = c.state[cell->state], stored = system.stored_energy();
    ++runs;
    try {
      simulator.advance(c, bench.weather.end());
    } catch (const SimulationError& error) {
      MESSAGE(std::string(error.what()));
      ++given_up;
      return;
    }

    RC_ASSERT(finite(c.state));
    RC_ASSERT(finite(c.network));
    const Sums s = sums_of(bench.diagram, c);
    const double ledger = std::abs(s.balance - s.stored) / s.moved;
    const double independent =
        std::abs(s.balance - (simulator.at(c).stored_energy() - stored) - looker.unbalanced) / s.moved;
    const double gap = std::abs(s.in - s.out - looker.self_discharged - (c.state[cell->state] - charge));
    const double span = static_cast<double>(bench.weather.end() - bench.weather.begin()) / ticks_per_second;
    const bool plain = looker.collapses + looker.leaps == 0;
    Worst& w = worst[plain ? 0 : 1];
    w = {w.runs + 1, std::max(w.ledger, ledger), std::max(w.independent, independent),
         std::max(w.gap, gap / (s.in + s.out + looker.self_discharged))};
    RC_ASSERT(ledger <= 1e-9 + solve_rounding * span / s.moved);
    RC_ASSERT(independent <= 2e-6);
    if (independent > 1e-8) ++loose;
    RC_ASSERT(gap <= 1e-6 * (s.in + s.out) + 1e-4 * looker.self_discharged);
    const ServiceRecord record = service.finish();
    RC_ASSERT(record.due >= record.wakes);
    RC_ASSERT(record.wakes >= record.completed);
  });
  for (const Worst& w : worst) {
    MESSAGE(fmt::format("{} runs {} leap or collapse: ledger {:.1e}, independent {:.1e}, charge {:.1e}", w.runs,
                        &w == worst ? "without" : "with", w.ledger, w.independent, w.gap));
  }
  MESSAGE(fmt::format("of {} runs {} beyond 1e-8, {} could not be completed", runs, loose, given_up));
  CHECK(held);
  CHECK(loose * 5 <= runs);
  CHECK(given_up * 50 <= runs);
}

TEST_CASE("the order in which a random instrument is written changes no bit of its state") {
  const test::Scratch scratch;
  write_weathers(scratch);
  const bool held = rc::check("permutation", [&] {
    const std::string weather = any_weather();
    Netlist netlist = any_instrument(any(4, 98));
    std::mt19937 random(*rc::gen::arbitrary<unsigned>());
    Context end[2];
    for (Context& c : end) {
      const test::Replayed bench(scratch.write("random.yaml", netlist.text(weather)));
      Simulator simulator(bench.diagram, bench.weather, {});
      c = simulator.start();
      simulator.advance(c, bench.weather.begin() + 8 * 3600 * ticks_per_second);
      netlist.shuffle(random);
    }
    RC_ASSERT(end[0].state == end[1].state);
    RC_ASSERT(end[0].network == end[1].network);
    RC_ASSERT(end[0].memory == end[1].memory);
    RC_ASSERT(end[0].alarm == end[1].alarm);
  });
  CHECK(held);
}
