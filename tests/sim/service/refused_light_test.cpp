#include "sim/service/refused_light.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

/// The harvest scenario's integrals, set by hand; nothing is simulated.
struct Bench {
  test::Replayed replayed{"scenarios/peat-bog-harvest.yaml", {2025, 1, 20}, {2025, 1, 25}};
  const Diagram& diagram = replayed.diagram;
  Evaluator evaluator{diagram};
  std::vector<double> state = std::vector<double>(diagram.states() + diagram.integrals(), 0.0);
  RefusedLight light{diagram, replayed.weather.begin()};

  void offer(double joules) {
    for (const DiagramPart& part : diagram.parts()) {
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        if (part.table->flows[f].kind != FlowKind::offered) continue;
        state[diagram.states() + part.flow + f] += joules;
        return;
      }
    }
    throw std::logic_error("nothing offers");
  }
  void refuse(const std::string& cause, double joules) {
    for (std::size_t i = 0; i < diagram.refused().size(); ++i) {
      if (diagram.refused()[i].cause != cause) continue;
      state[diagram.states() + diagram.flows() + i] += joules;
      return;
    }
    throw std::logic_error("nothing refuses as " + cause);
  }
  void step(Tick at) { light.on_step(replayed.weather.begin() + at, state.data(), evaluator); }
};

constexpr Tick hour = 3600 * ticks_per_second;

}  // namespace

TEST_CASE("refused light: what refused the larger half of a day's offer, day by day") {
  Bench b;
  b.step(12 * hour);
  CHECK(b.light.on_day(0).empty());
  b.offer(100);
  b.refuse("too cold", 51);
  b.refuse("complete", 40);
  b.step(24 * hour);
  CHECK(b.light.on_day(0) == "charger: too cold");

  b.offer(100);  // of this day alone
  b.refuse("too cold", 50);
  b.refuse("complete", 50);
  b.step(50 * hour);
  CHECK(b.light.on_day(1).empty());

  b.step(72 * hour);  // a day without light
  CHECK(b.light.on_day(2).empty());

  b.offer(1);
  b.refuse("complete", 1);
  b.step(95 * hour);
  CHECK(b.light.on_day(3).empty());  // not over
  b.step(96 * hour);
  CHECK(b.light.on_day(3) == "charger: complete");
}

TEST_CASE("refused light: a simulated day below the cold limit") {
  const test::Replayed r("scenarios/peat-bog-harvest.yaml", {2025, 1, 1}, {2025, 1, 31});
  RefusedLight light(r.diagram, r.weather.begin());
  Simulator simulator(r.diagram, r.weather, {}, &light);
  Context c = simulator.start();
  simulator.advance(c, r.weather.end());
  std::size_t cold = 0, frosty = 0;
  for (std::size_t day = 0; day < 31; ++day) {
    double warmest = -100;
    for (const WeatherInterval& i : r.weather.intervals()) {
      const Tick from = r.weather.begin() + static_cast<Tick>(day) * ticks_per_day;
      if (i.begin >= from && i.end <= from + ticks_per_day)
        warmest = std::max(warmest, (i.ambient.air - zero_celsius).si());
    }
    CAPTURE(day);
    if (light.on_day(day) == "charger: too cold") {
      ++cold;
      CHECK(warmest < 8);  // the hysteresis ends the block at 2 degC or so
    }
    if (warmest < -0.5) {
      ++frosty;
      CHECK(light.on_day(day) == "charger: too cold");
    }
  }
  CHECK(cold > 0);
  CHECK(frosty > 0);
}
