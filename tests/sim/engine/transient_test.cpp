#include "sim/engine/transient.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/replay/weather_input.hpp"
#include "tests/support/toy.hpp"

using namespace overwinter;

namespace {

struct Bench {
  Scenario scenario = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml");
  Weather weather = weather_of(scenario, std::nullopt);
  Diagram diagram{scenario};
  Simulator settled{diagram, weather, {}};
  Simulator transient{diagram, weather, transient_options({})};
};

std::size_t state_of(const Diagram& diagram, const std::string& part, const std::string& name) {
  for (const DiagramPart& p : diagram.parts()) {
    for (std::size_t i = 0; i < p.table->states.size(); ++i) {
      if (p.name == part && p.table->states[i].name == name) return p.state + i;
    }
  }
  return diagram.states();
}

/// Why no transient can begin with that store; empty where one can.
std::string refusal(test::Toy::Store store) {
  const Diagram diagram(test::toys({{"odd", test::stepping_toy(1, 0, store)}}));
  const Weather weather = test::dark(2);
  Simulator settled(diagram, weather, {}), transient(diagram, weather, transient_options({}));
  const Context c = settled.start(), before = c;
  try {
    const Context inside = enter_transient(settled, transient, c);
    CHECK(inside.now == c.now);
    return "";
  } catch (const TransientRefused& refused) {
    CHECK(c.state == before.state);
    CHECK(c.network == before.network);
    return refused.what();
  }
}

}  // namespace

TEST_CASE("transient: a settled network stays where it is, there and back") {
  Bench b;
  Context c = b.settled.start();
  b.settled.advance(c, c.now + 3600 * ticks_per_second);
  const Context inside = enter_transient(b.settled, b.transient, c);
  for (std::size_t n = 0; n < b.diagram.nets().size(); ++n) {
    CAPTURE(b.diagram.nets()[n]);
    CHECK(std::abs(inside.network[n] - c.network[n]) < 2e-3);
  }
  Context later = inside;
  b.transient.advance(later, c.now + ticks_per_second / 100);
  for (std::size_t n = 0; n < b.diagram.nets().size(); ++n) {
    CAPTURE(b.diagram.nets()[n]);
    CHECK(std::abs(later.network[n] - c.network[n]) < 2e-3);
  }
  Context back = leave_transient(b.transient, b.settled, later);
  b.settled.advance(back, c.now + 60 * ticks_per_second);
  b.settled.advance(c, c.now + 60 * ticks_per_second);
  const std::size_t charge = state_of(b.diagram, "cell", "charge");
  CHECK(back.state[charge] == doctest::Approx(c.state[charge]).epsilon(1e-9));
}

TEST_CASE("transient: the rail shares its charge with the empty reservoir as the switch closes, and is charged again") {
  Bench b;
  Context c = b.settled.start();
  const std::size_t store = state_of(b.diagram, "boost", "store_voltage"),
                    reservoir = state_of(b.diagram, "reservoir", "voltage");
  Tick alarm = never;
  for (const DiagramPart& p : b.diagram.parts()) {
    if (p.name == "clock") alarm = c.alarm[p.alarm];
  }
  REQUIRE(alarm < b.weather.end());
  b.settled.advance(c, alarm - 1000);
  Context inside = enter_transient(b.settled, b.transient, c);
  double lowest = 10, highest = 0;
  for (int i = 1; i <= 1000; ++i) {
    b.transient.advance(inside, alarm + i * 10'000);
    lowest = std::min(lowest, inside.state[store]);
    highest = std::max(highest, inside.state[store]);
  }
  // 22 uF at 5 V onto 100 uF: charge sharing leaves 5 V 22/122 = 0.9 V, and what the converter gives meanwhile.
  CHECK(lowest < 1.5);
  CHECK(lowest > 0.8);
  // Nothing draws on the regulator's overshoot until the controller boots, 2 ms after its supply is valid.
  CHECK(highest < 5.5);
  CHECK(inside.state[store] == doctest::Approx(5).epsilon(0.01));
  CHECK(inside.state[reservoir] == doctest::Approx(5).epsilon(0.01));
}

TEST_CASE("transient: a net that would jump as it begins is refused, from 20 mV on") {
  // A store of 1 ohm at a net of 1 kohm takes the net with it but for a thousandth.
  CHECK(refusal({1e-6, 1, 0}).empty());
  CHECK(refusal({1e-6, 1, 0.0199}).empty());
  CHECK(refusal({1e-6, 1, -0.0199}).empty());
  for (const double off : {0.021, 1.0, -1.0}) {
    CAPTURE(off);
    const std::string why = refusal({1e-6, 1, off});
    CHECK(why.find("net net would jump from 0.000 V to ") != std::string::npos);
    CHECK(why.find("2025-03-01T") == 0);
  }
  CHECK(refusal({1e-6, 1, 1}).find("to 0.999 V") != std::string::npos);
}

TEST_CASE("transient: a fast state that would move by itself is refused, from 20 mV in 10 us on") {
  // V / RC = 2000 V/s is 20 mV in 10 us; 100 kohm hold the net.
  CHECK(refusal({5.2e-9, 1e5, 1}).empty());
  CHECK(refusal({4.8e-9, 1e5, 1}).find("store of odd would move by -0.02") != std::string::npos);
  CHECK(refusal({1e-9, 1e5, -1}).find("store of odd would move by 0.0") != std::string::npos);
}
