// What every builder of such instruments knows, asked of the whole chain. None of it has a published source: each case
// is common practice, and so is each number that comes neither from a part class nor from a case's own arithmetic.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "models/sources/panel.hpp"
#include "tests/models/support/alone.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

constexpr double interval = 1800;             // s, n: the policy below
constexpr double hold = 0.002 + 0.5 + 2 + 5;  // s, h: power-on delay and boot time of the class, then the phases below
constexpr double line_low = 0.4;              // V, at most, of an open-drain line that pulls down
constexpr double line_high = 0.9;             // of the pull-up's net, at least, of a line that nothing pulls down
constexpr double reset_rearm = 0.9;           // V, class controller-8bit-5v
constexpr double lowest_supply = 4.3;         // V, its brown-out threshold
constexpr double idle_current = 4e-3;         // A, its
constexpr double coin_current = 1e-6;         // A, class clock-crystal
constexpr double coin_loss = 0.01;            // of what is left, a year: default of the clock
constexpr double drift_at_20_degc = -20e-6 - 0.035e-6 * 25;  // class clock-crystal: 20 ppm slow, 5 K off its turnover

/// What differs between the instruments of this file.
struct Wiring {
  int days = 1;
  std::string charge = "80 %";         ///< of the cell
  std::string first_alarm = "10 min";  ///< of the clock
  bool boosted = true;                 ///< the switch stands behind the boost converter, not at the cell
  std::string pull_up = "supply";      ///< net that pulls the wake line up; `io` is at 3.3 V
};

/// A cell behind its protector, a boost converter for 5 V or none, a clock that closes the switch, and a controller
/// that cuts its own power.
std::string instrument(const Wiring& w) {
  return fmt::format(
      R"(
scenario: a chain without light
span: {{from: 2025-03-01, to: 2025-03-{:02}}}
weather: {{file: still.epw}}
parts:
  cell: {{part: nmc-18650-3000mah, charge: {}}}
  guard: {{part: protector-2a5-charge-release}}
  {}
  upper: {{model: resistor, resistance: 17 kohm}}
  lower: {{model: resistor, resistance: 33 kohm}}
  clock: {{part: clock-crystal, first_alarm: {}}}
  switch: {{part: p-switch-logic-30mohm}}
  reservoir: {{part: ceramic-100uf}}
  logger:
    part: controller-8bit-5v
    phases:
      - {{name: measure, duration: 2 s, current: 9 mA}}
      - {{name: send, duration: 5 s, current: 20 mA}}
nets:
  cell+: [cell.plus, guard.cell]
  pack+: [guard.pack, clock.supply, feed.{}]
  supply: [feed.{}, switch.source, upper.a]
  io: [upper.b, lower.a]
  instrument+: [switch.drain, logger.supply, reservoir.plus]
  gnd: [cell.minus, guard.ground, lower.b, clock.ground, reservoir.minus, logger.ground{}]
lines:
  wake: {{from: clock.interrupt, to: switch.gate, pull_up: {{net: {}, resistance: 1 Mohm}}}}
  bus: {{from: logger.bus, to: clock.bus}}
policy: {{every: 30 min}}
)",
      w.days, w.charge,
      w.boosted ? "feed: {part: boost-5v-500ma-disconnect}" : "feed: {model: resistor, resistance: 10 mohm}",
      w.first_alarm, w.boosted ? "in" : "a", w.boosted ? "out" : "b", w.boosted ? ", feed.ground" : "", w.pull_up);
}

/// The system at an event, before it changes anything, or at the end of a step.
struct Look {
  std::string what;  ///< part and event; empty for a step
  Tick time;
  double pack, supply, wake, instrument;  ///< V
  double flag, coin;                      ///< of the clock: flag, charge left (A s)
  double drawn;                           ///< by the controller, A
  std::string gate, mode;                 ///< of switch and controller
};

/// Runs an instrument in the dark at 20 degC.
class Chain final : public RunWatcher {
 public:
  explicit Chain(const Wiring& wiring) : run_(written(wiring)) {
    Simulator simulator(run_.diagram, run_.weather, {}, this);
    Context c = simulator.start();
    simulator.advance(c, run_.weather.end());
  }
  void on_step(Tick now, const double*, Evaluator& system) override { look("", now, system); }
  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    look(h.part_name() + " " + h.event_name(), h.time, system);
  }

  /// Index of the first event of this name from an index on.
  std::size_t next(const std::string& what, std::size_t from) const {
    const auto found = std::find_if(looks.begin() + static_cast<std::ptrdiff_t>(from), looks.end(),
                                    [&](const Look& l) { return l.what == what; });
    return static_cast<std::size_t>(found - looks.begin());
  }
  /// Indices of all events of this name.
  std::vector<std::size_t> all(const std::string& what) const {
    std::vector<std::size_t> found;
    for (std::size_t i = next(what, 0); i < looks.size(); i = next(what, i + 1)) found.push_back(i);
    return found;
  }
  template <class Value>
  double highest(Value value) const {
    double top = value(looks.front());
    for (const Look& l : looks) top = std::max(top, value(l));
    return top;
  }

  std::vector<Look> looks;

 private:
  std::string written(const Wiring& wiring) const {
    scratch_.write_weather("still.epw", [](int) { return 0.0; });
    return scratch_.write("chain.yaml", instrument(wiring));
  }
  void look(std::string what, Tick now, Evaluator& system) {
    looks.push_back({std::move(what), now, volts("pack+", system), volts("supply", system), volts("wake", system),
                     volts("instrument+", system), value("clock", "flag", system),
                     value("clock", "backup_charge", system), value("logger", "current", system),
                     label("switch", "conducting", system), label("logger", "mode", system)});
  }
  double volts(const std::string& net, Evaluator& system) const {
    const std::vector<std::string>& nets = run_.diagram.nets();
    return system.net_voltage(static_cast<std::size_t>(std::find(nets.begin(), nets.end(), net) - nets.begin()));
  }
  template <class Visit>
  auto output(const std::string& part, const std::string& name, Visit visit) const {
    for (std::size_t p = 0; p < run_.diagram.parts().size(); ++p) {
      if (run_.diagram.parts()[p].name != part) continue;
      for (const Output& o : run_.diagram.parts()[p].table->outputs) {
        if (o.name == name) return visit(p, o);
      }
    }
    throw std::out_of_range(part + " has no " + name);
  }
  double value(const std::string& part, const std::string& name, Evaluator& system) const {
    return output(part, name, [&](std::size_t p, const Output& o) {
      return o.value(*run_.diagram.parts()[p].model, system.view(p));
    });
  }
  std::string label(const std::string& part, const std::string& name, Evaluator& system) const {
    return output(part, name, [&](std::size_t p, const Output& o) {
      return o.labels.at(static_cast<std::size_t>(o.value(*run_.diagram.parts()[p].model, system.view(p))));
    });
  }

  const Scratch scratch_;
  const Replayed run_;
};

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

/// A label panel of 6 V, 100 mA behind no cover.
Alone panel(double tilt, double azimuth) {
  PanelParameters p;
  p.label_voltage = Voltage{6.0};
  p.label_current = Current{0.1};
  p.cells = 12;
  p.tilt = tilt * units::degree;
  p.azimuth = azimuth * units::degree;
  return build<Panel>(p);
}

/// What two panels that look in opposite directions can deliver at most, together and one alone, over the quarter hours
/// of every tenth day of a year, as a share of their rating.
struct Pair {
  double together = 0, alone = 0;
};
Pair best_of_year(double latitude, double tilt, double azimuth, double clearness) {
  constexpr double rating = 0.6;                                                      // W of each, on the label
  constexpr Tick quarter = 900 * ticks_per_second, new_year = 20089 * ticks_per_day;  // 2025-01-01
  Observer observer;
  observer.latitude = latitude * units::degree;
  Alone one = panel(tilt, azimuth), other = panel(tilt, azimuth + 180);
  Pair best;
  for (int d = 0; d < 365; d += 10) {
    for (Tick t = new_year + d * ticks_per_day, end = t + ticks_per_day; t < end; t += quarter) {
      const IntervalSun sun = interval_sun(t, t + quarter, observer);
      if (sun.lit_fraction == 0) continue;
      Ambient now = air(0);
      now.sky.global_horizontal = clearness * clear_sky(sun.sun.zenith);
      const Split split = split_global(now.sky.global_horizontal, sun);
      now.sky.beam_normal = split.beam_normal;
      now.sky.diffuse_horizontal = split.diffuse_horizontal;
      now.sky.extraterrestrial_normal = extraterrestrial_normal(sun.sun.distance);
      now.sky.sun_zenith = sun.sun.zenith;
      now.sky.sun_azimuth = sun.sun.azimuth;
      one.weather(now);
      other.weather(now);
      const double a = one.flow("offer") / rating, b = other.flow("offer") / rating;
      best.together = std::max(best.together, (a + b) / 2);
      best.alone = std::max({best.alone, a, b});
    }
  }
  return best;
}

}  // namespace

TEST_CASE("common practice: a wake, link by link") {
  const Chain chain({});
  const std::vector<std::size_t> alarms = chain.all("clock alarm");
  REQUIRE(alarms.size() == 48);  // (86400 s - 600 s) / 1807.54 s = 47.5
  for (const std::size_t due : alarms) {
    CAPTURE(iso_time(chain.looks[due].time, 3));
    const std::size_t came = chain.next("logger power came", due), on = chain.next("switch switched on", due),
                      boot = chain.next("logger boot", due), measure = chain.next("logger phase begins", boot),
                      send = chain.next("logger phase begins", measure + 1),
                      completed = chain.next("logger wake completed", due),
                      written = chain.next("clock alarm written", due),
                      reset = chain.next("logger reset while idle", due), gone = chain.next("logger power gone", due);
    REQUIRE(gone < chain.looks.size());
    const std::size_t order[] = {due, std::min(came, on), boot, measure, send, completed, written, reset, gone};
    CHECK(std::is_sorted(std::begin(order), std::end(order)));

    // Asleep: the line is up, the switch open, the reset armed.
    const Look& asleep = chain.looks[due];
    CHECK(asleep.flag == 0);
    CHECK(asleep.wake > line_high * asleep.supply);
    CHECK(asleep.gate == "off");
    CHECK(asleep.instrument < reset_rearm);
    // The flag pulls the line down, the switch conducts, the rail comes up.
    const Look& closed = chain.looks[on];
    CHECK(closed.time == asleep.time);
    CHECK(closed.flag == 1);
    CHECK(closed.wake < line_low);
    CHECK(closed.gate == "on");
    CHECK(closed.instrument > 0.98 * 5);
    // Boot and phases, awake for h in all.
    CHECK(chain.looks[boot].mode == "power-on delay");
    CHECK(chain.looks[measure].mode == "booting");
    CHECK(chain.looks[send].mode == "running");
    CHECK(seconds(chain.looks[completed].time - asleep.time) == doctest::Approx(hold).epsilon(1e-6));
    for (std::size_t i = boot + 1; i <= completed; ++i) {
      CHECK(chain.looks[i].instrument > lowest_supply);
      CHECK(chain.looks[i].flag == 1);
    }
    // The controller writes the alarm while the line still holds its supply...
    const Look& before = chain.looks[written];
    CHECK(before.mode == "idle");
    CHECK(before.flag == 1);
    CHECK(before.wake < line_low);
    CHECK(before.gate == "on");
    // ...which clears the flag, lifts the line and cuts the power.
    const Look& after = chain.looks[written + 1];
    CHECK(after.flag == 0);
    CHECK(after.wake > line_high * after.supply);
    CHECK(after.gate == "off");
    CHECK(chain.looks[reset].instrument == doctest::Approx(lowest_supply).epsilon(1e-4));
    CHECK(chain.looks[gone].instrument == doctest::Approx(reset_rearm).epsilon(1e-4));
    CHECK(seconds(chain.looks[gone].time - before.time) > 0);
    CHECK(seconds(chain.looks[gone].time - before.time) < 60);
  }
}

TEST_CASE("common practice: an alarm n seconds after a wake of hold time h comes every h + n, but for the drift") {
  const Chain chain({});
  const std::vector<std::size_t> alarms = chain.all("clock alarm");
  REQUIRE(alarms.size() == 48);
  for (std::size_t k = 1; k < alarms.size(); ++k) {
    const double period = seconds(chain.looks[alarms[k]].time - chain.looks[alarms[k - 1]].time);
    CHECK(std::abs(period - (hold + interval)) < 25e-6 * interval);  // 25 ppm: a crystal at room temperature
    CHECK(std::abs(period - (hold + interval / (1 + drift_at_20_degc))) < 1e-6);
  }
}

TEST_CASE("common practice: two equal panels on opposite sides of a body never deliver the sum of their ratings") {
  for (const double latitude : {0.0, 35.0, 56.0, 68.0}) {
    for (const double azimuth : {90.0, 180.0}) {
      for (const double tilt : {45.0, 70.0, 90.0}) {
        for (const double clearness : {1.0, 0.6, 0.2}) {
          CAPTURE(latitude);
          CAPTURE(azimuth);
          CAPTURE(tilt);
          CAPTURE(clearness);
          const Pair best = best_of_year(latitude, tilt, azimuth, clearness);
          CHECK(best.together < 1);
          CHECK(best.together > 0.05);
          if (tilt == 90) CHECK(best.together < 0.5);  // together not even the rating of one
          if (tilt == 90 && clearness == 1 && azimuth == 90) CHECK(best.alone > 0.8);
          if (tilt == 90 && clearness < 1) CHECK(best.alone < 0.4);
          if (clearness == 0.2) CHECK(best.together > 0.9 * best.alone);  // an overcast sky looks the same all around
        }
      }
    }
  }
}

TEST_CASE("common practice: when the main supply is gone, the clock goes on for years from its coin cell") {
  Wiring w;
  w.days = 20;
  w.charge = "0.5 %";
  w.first_alarm = "10 d";
  const Chain chain(w);
  const std::size_t tripped = chain.next("guard over-discharge trip", 0);
  REQUIRE(tripped < chain.looks.size());
  const Look &first = chain.looks[tripped], &last = chain.looks.back();
  REQUIRE(seconds(first.time - chain.looks.front().time) < 60);
  for (std::size_t i = tripped + 2; i < chain.looks.size(); ++i) CHECK(chain.looks[i].pack < 1.5);
  const std::vector<std::size_t> alarms = chain.all("clock alarm");
  REQUIRE(alarms.size() == 1);
  CHECK(std::abs(seconds(chain.looks[alarms[0]].time - chain.looks.front().time) - 864000) < 25e-6 * 864000 + 1);
  CHECK(last.flag == 1);
  CHECK(chain.all("clock clock stops").empty());
  const double rate = (first.coin - last.coin) / seconds(last.time - first.time);
  CHECK(rate == doctest::Approx(coin_current + coin_loss / 31556925.97 * first.coin).epsilon(1e-3));
  CHECK(last.coin / rate > 10 * 31556925.97);
}

TEST_CASE("common practice: without a boost converter a 5 V controller never boots from a lithium cell") {
  for (const char* charge : {"100 %", "80 %", "30 %"}) {
    CAPTURE(charge);
    Wiring w;
    w.charge = charge;
    const Chain boosted(w);
    w.boosted = false;
    const Chain direct(w);
    const auto supply = [](const Look& l) { return l.instrument; };
    const auto above_cell = [](const Look& l) { return std::max(l.instrument, l.supply) - l.pack; };
    CHECK(boosted.all("logger wake completed").size() == 48);
    CHECK(boosted.highest(supply) > 4.9);
    CHECK(direct.all("logger power came").size() == 1);
    CHECK(direct.all("logger boot").empty());
    CHECK(direct.all("logger wake completed").empty());
    CHECK(direct.highest(supply) > 3);
    CHECK(direct.highest(supply) < lowest_supply);
    CHECK(direct.highest(above_cell) < 1e-6);
  }
}

TEST_CASE("common practice: a gate pulled up to 3.3 V only does not switch off a P-switch whose source is at 5 V") {
  Wiring w;
  w.pull_up = "io";
  const Chain weak(w), right({});
  CHECK(right.all("logger power gone").size() >= 47);
  CHECK(weak.all("logger power gone").empty());
  for (const Look& l : weak.looks) {
    CHECK(l.gate != "off");
    CHECK(l.instrument > lowest_supply);
    if (l.flag == 0) CHECK(l.wake == doctest::Approx(3.3).epsilon(0.02));
  }
  // One wake, from the start of the span on; then the controller idles through every alarm.
  CHECK(weak.all("logger wake completed").size() == 1);
  CHECK(weak.looks.back().mode == "idle");
  CHECK(weak.looks.back().drawn == doctest::Approx(idle_current));
  CHECK(right.looks.back().drawn < 1e-3 * idle_current);
}
