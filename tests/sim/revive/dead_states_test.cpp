#include "sim/revive/dead_states.hpp"

#include <doctest/doctest.h>

#include <set>

#include "models/storage/cell.hpp"
#include "tests/sim/revive/support/revive_bench.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;
using Names = std::vector<std::string>;

namespace {

const std::string needs_human = "outcomes/needs-human.yaml", phantom = "outcomes/phantom-supply.yaml";

}  // namespace

TEST_CASE("dead states: a dimension for each condition of a part, with the values that it can have") {
  const test::ReviveBench bench(needs_human);
  Names names;
  for (const Dimension& d : bench.states.dimensions()) names.push_back(d.name);
  CHECK(names == Names{"dawn", "charge", "charger charge", "clock alarm", "clock coin cell", "guard discharge",
                       "logger mode", "logger supply"});
  const auto values = [&](const std::string& name) { return bench.states.dimensions()[bench.dimension(name)].values; };
  CHECK(values("charge") == Names{"0.5 %", "2 %", "5 %", "15 %", "40 %"});
  CHECK(values("charger charge") == Names{"ready", "complete", "blocked by cold"});
  CHECK(values("guard discharge") == Names{"closed", "tripped"});
  // Its brown-out detector is on: it cannot hang.
  CHECK(values("logger mode") == Names{"off", "in reset", "finished"});
  const test::ReviveBench without_detector(phantom);
  const Dimension& mode = without_detector.states.dimensions()[without_detector.dimension("logger mode")];
  CHECK(mode.values == Names{"off", "in reset", "hung", "finished"});
}

TEST_CASE("dead states: no block by cold without a line of temperature, no charge left without a capacitor") {
  const test::Scratch scratch;
  const std::string file = scratch.write(
      "bare.yaml",
      test::shipped(needs_human, {{"  cell-temperature: {from: cell.temperature, to: charger.temperature}\n", ""},
                                  {"  reservoir: {part: ceramic-100uf}\n", ""},
                                  {"        reservoir.minus, logger.ground", "        logger.ground"},
                                  {", reservoir.plus", ""}}));
  const test::ReviveBench bench(file);
  CHECK(bench.states.dimensions()[bench.dimension("charger charge")].values == Names{"ready", "complete"});
  CHECK(bench.states.dimensions().back().name == "logger mode");
}

TEST_CASE("dead states: every combination once, and only those that are kept") {
  test::ReviveBench bench(needs_human);
  const std::vector<DeadState> all = bench.states.all();
  std::size_t product = 1;
  for (const Dimension& d : bench.states.dimensions()) product *= d.values.size();
  CHECK(all.size() == product);
  CHECK(std::set<DeadState>(all.begin(), all.end()).size() == product);

  const std::size_t alarm = bench.dimension("clock alarm");
  bench.states.keep(alarm, {1});
  bench.states.keep(bench.dimension("charge"), {2, 4});
  CHECK(bench.states.dimensions()[alarm].values == Names{"flag set"});
  CHECK(bench.states.dimensions()[bench.dimension("charge")].values == Names{"5 %", "40 %"});
  CHECK(bench.states.all().size() == product / 3 * 2 / 5);
  Simulator simulator(bench.run.diagram, bench.dawns[0].weather, {});
  const Context c =
      simulator.start(bench.states.arranged(bench.state({{"charge", "40 %"}, {"guard discharge", "tripped"}}), 7));
  const DiagramPart& cell = bench.run.diagram.parts()[bench.part("cell")];
  CHECK(c.state[cell.state] == doctest::Approx(0.4 * static_cast<const Cell&>(*cell.model).parameters().capacity.si()));
}

TEST_CASE("dead states: combinations that cannot be, with the reason") {
  const test::ReviveBench bench(needs_human);
  const auto why = [&](const std::vector<std::pair<std::string, std::string>>& named) {
    return bench.states.contradiction(bench.state(named));
  };
  CHECK(why({}) == "");
  CHECK(why({{"clock alarm", "lost"}}) == "clock: it keeps its alarm as long as the coin cell is good");
  CHECK(why({{"clock alarm", "lost"}, {"clock coin cell", "gone"}}) == "");
  CHECK(why({{"clock alarm", "flag set"}}) == "");
  CHECK(why({{"clock alarm", "flag set"}, {"logger mode", "finished"}}) ==
        "logger: it clears the flag as it finishes its wake");
  const test::ReviveBench forgetful("outcomes/flag-never-cleared.yaml");
  CHECK(forgetful.states.contradiction(forgetful.state({{"clock alarm", "flag set"}, {"logger mode", "finished"}})) ==
        "");
}

TEST_CASE("dead states: what is arranged stands so") {
  const test::ReviveBench bench(needs_human);
  const Tick alarm = pending_alarm(bench.dawns[0].weather);
  const std::size_t clock_alarm = bench.run.diagram.parts()[bench.part("clock")].alarm;
  const auto round_trip = [&](const DeadState& state) {
    Simulator simulator(bench.run.diagram, bench.dawns[state.front()].weather, {});
    const Context c = simulator.start(bench.states.arranged(state, alarm));
    const Stand stand = bench.states.stand(state, c, simulator.at(c));
    REQUIRE(stand.size() == state.size());
    for (std::size_t d = 0; d < state.size(); ++d) {
      CAPTURE(bench.states.dimensions()[d].name);
      REQUIRE(stand[d]);
      CHECK(*stand[d] == state[d]);
    }
    return c;
  };
  CHECK(round_trip(bench.state({{"charge", "40 %"}})).alarm[clock_alarm] == alarm);
  CHECK(round_trip(bench.state({{"charge", "40 %"}, {"guard discharge", "tripped"}, {"clock alarm", "flag"}}))
            .alarm[clock_alarm] == never);
  round_trip(bench.state(
      {{"charge", "5 %"}, {"guard discharge", "tripped"}, {"clock alarm", "lost"}, {"clock coin cell", "gone"}}));
  round_trip(bench.state({{"dawn", "cold"}, {"charge", "5 %"}, {"charger charge", "blocked"}}));
  round_trip(bench.state({{"charge", "15 %"}, {"logger mode", "in reset"}, {"logger supply", "phantom"}}));
}

TEST_CASE("dead states: of what does not stand as arranged something else is told, or nothing") {
  const test::ReviveBench bench(needs_human);
  Simulator simulator(bench.run.diagram, bench.dawns[0].weather, {});
  const DeadState given = bench.state({{"charge", "40 %"}, {"guard discharge", "tripped"}});
  Context c = simulator.start(bench.states.arranged(given, pending_alarm(bench.dawns[0].weather)));
  const std::size_t guard = bench.dimension("guard discharge");
  c.memory[bench.run.diagram.parts()[bench.part("guard")].memory] = 0;
  CHECK(bench.states.stand(given, c, simulator.at(c))[guard] == std::size_t{0});
  c.memory[bench.run.diagram.parts()[bench.part("guard")].memory] =
      2;  // after an over-current: no way of its condition
  CHECK_FALSE(bench.states.stand(given, c, simulator.at(c))[guard]);
  CHECK(bench.states.is_of_controller(bench.dimension("logger mode")));
  CHECK(bench.states.is_of_controller(bench.dimension("logger supply")));
  CHECK_FALSE(bench.states.is_of_controller(guard));
}
