#include "sim/engine/simulator.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

struct Log final : RunWatcher {
  std::vector<Happening> happenings;
  std::vector<double> charge;
  std::vector<Tick> samples;
  void on_happening(const Happening& h, const double* state, Evaluator&) override {
    happenings.push_back(h);
    charge.push_back(state[0]);
  }
  void on_sample(Tick t, const double*, Evaluator&) override { samples.push_back(t); }
  const Happening* find(const std::string& event) const {
    for (const Happening& h : happenings) {
      if (h.event_name() == event) return &h;
    }
    return nullptr;
  }
};

test::Replayed bench(const test::Scratch& scratch, const std::string& load, const std::string& volts,
                     const std::string& mohm) {
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  return test::Replayed(scratch.write("test.yaml", test::cell_and(load, volts, mohm)));
}

}  // namespace

TEST_CASE("a constant current empties the cell at the tick that arithmetic says") {
  const test::Scratch scratch;
  // V = 3 V + 1 V s - 0.1 ohm 50 mA reaches 3.5 V at s = 0.505: after 0.495 Ah / 50 mA = 9.9 h.
  const test::Replayed b =
      bench(scratch, "{model: load, kind: current, current: 50 mA, minimum_supply: 3.5 V}", "3 4", "100");
  Log log;
  Simulator simulator(b.diagram, b.weather, {}, &log);
  Context c = simulator.start();
  simulator.advance(c, c.now + 11 * 3600 * ticks_per_second);
  const Happening* low = log.find("supply too low");
  REQUIRE(low);
  const double hours = static_cast<double>(low->time - b.weather.begin()) / ticks_per_second / 3600;
  CHECK(std::abs(hours - 9.9) * 3600 < 1e-3);
  CHECK(log.happenings.size() == 1);  // disarmed until the guard has left its side
}

TEST_CASE("the schedule's alarms are due on exact ticks and the charge is their sum") {
  const test::Scratch scratch;
  const test::Replayed b =
      bench(scratch,
            "{model: load, kind: current, current: 100 mA, minimum_supply: 2 V, daily: {time: 0 6 6.5 h, "
            "level: 0 1 0.1}}",
            "3 4", "100");
  Log log;
  Simulator simulator(b.diagram, b.weather, {}, &log);
  Context c = simulator.start();
  const Tick begin = c.now;
  simulator.advance(c, begin + ticks_per_day);
  REQUIRE(log.happenings.size() == 3);
  CHECK(log.happenings[0].time == begin + 6 * 3600 * ticks_per_second);
  CHECK(log.happenings[1].time == begin + 13 * 1800 * ticks_per_second);
  CHECK(log.happenings[2].time == begin + ticks_per_day);
  // 0.5 h at 100 mA and 17.5 h at 10 mA.
  CHECK(c.state[0] / 3.6 == doctest::Approx(1000 - 50 - 175).epsilon(1e-10));
}

TEST_CASE("a constant-power load collapses where E^2 = 4 R P") {
  // The largest power a source of voltage E and resistance R can give (maximum power transfer): P = E^2 / (4 R).
  const test::Scratch scratch;
  const test::Replayed b =
      bench(scratch, "{model: load, kind: power, power: 2.56 W, minimum_supply: 0.5 V}", "3 4", "1000");
  Log log;
  Simulator simulator(b.diagram, b.weather, {}, &log);
  Context c = simulator.start();
  simulator.advance(c, c.now + 3 * 3600 * ticks_per_second);
  const Happening* collapse = log.find("collapse");
  REQUIRE(collapse);
  CHECK(collapse->what.find("pack+") != std::string::npos);
  for (std::size_t i = 0; i < log.happenings.size(); ++i) {
    if (&log.happenings[i] != collapse) continue;
    // E = 3 V + 1 V s = 2 sqrt(R P) = 3.2 V at s = 0.2. Within the last resolvable step before a square-root fold.
    CHECK(log.charge[i] / 3600 == doctest::Approx(0.2).epsilon(1e-4));
  }
  CHECK(log.find("supply too low"));
  Evaluator& system = simulator.at(c);
  CHECK(system.net_voltage(0) < 0.5);  // the resistive branch below the supply range
}

TEST_CASE("a copied context goes on exactly like its original") {
  const test::Replayed b("scenarios/peat-bog.yaml", {2024, 12, 1}, {2024, 12, 6});
  Simulator one(b.diagram, b.weather, {}), two(b.diagram, b.weather, {});
  Context original = one.start();
  one.advance(original, b.weather.begin() + 2 * ticks_per_day);
  Context copy = original;
  one.advance(original, b.weather.end());
  two.advance(copy, b.weather.end());
  CHECK(copy.state == original.state);
  CHECK(copy.network == original.network);
  CHECK(copy.memory == original.memory);
  CHECK(copy.alarm == original.alarm);
}

TEST_CASE("samples come at every multiple, once, in order") {
  const test::Scratch scratch;
  const test::Replayed b =
      bench(scratch, "{model: load, kind: current, current: 10 mA, daily: {time: 0 6 h, level: 0 1}}", "3 4", "100");
  Log log;
  SimulatorOptions options;
  options.sample_every = 7 * 60 * ticks_per_second;
  Simulator simulator(b.diagram, b.weather, options, &log);
  Context c = simulator.start();
  const Tick begin = c.now;
  simulator.advance(c, begin + ticks_per_day);
  REQUIRE(log.samples.size() == 205);
  for (std::size_t i = 0; i < log.samples.size(); ++i) {
    CHECK(log.samples[i] == begin + static_cast<Tick>(i + 1) * options.sample_every);
  }
}

TEST_CASE("advance refuses to leave the weather") {
  const test::Scratch scratch;
  const test::Replayed b = bench(scratch, "{model: load, kind: current, current: 10 mA}", "3 4", "100");
  Simulator simulator(b.diagram, b.weather, {});
  Context c = simulator.start();
  CHECK_THROWS_AS(simulator.advance(c, b.weather.end() + 1), std::invalid_argument);
}

TEST_CASE("time is written in ISO 8601") {
  CHECK(iso_time(0) == "1970-01-01T00:00:00Z");
  CHECK(iso_time(1709208000 * ticks_per_second + 1, 9) == "2024-02-29T12:00:00.000000001Z");
  CHECK(iso_time(-1, 3) == "1969-12-31T23:59:59.999Z");
}
