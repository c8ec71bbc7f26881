#include "sim/revive/diagnosis.hpp"

#include <doctest/doctest.h>

#include <set>

#include "models/control/controller.hpp"
#include "models/storage/cell.hpp"
#include "tests/sim/revive/support/revive_bench.hpp"

using namespace overwinter;

namespace {

/// A last day that nobody lived through: what a test wants of it is written into the contexts.
struct Sickbed {
  test::ReviveBench bench;
  Simulator simulator;
  LastDay day;

  Sickbed(const std::string& file, const std::vector<std::pair<std::string, std::string>>& named)
      : bench(file), simulator(bench.run.diagram, bench.dawns[0].weather, {}) {
    const Context c = simulator.start(bench.states.arranged(bench.state(named), pending_alarm(bench.dawns[0].weather)));
    day.begin = day.noon = day.end = c;
  }
  void over_the_day(std::size_t integral, double joules) {
    day.end.state[bench.run.diagram.states() + integral] += joules;
  }
  void offered(double joules) { over_the_day(bench.run.diagram.harvest().front().offered_flow, joules); }
  void refused(const std::string& cause, double joules) {
    const auto& slots = bench.run.diagram.refused();
    for (std::size_t i = 0; i < slots.size(); ++i) {
      if (slots[i].cause == cause) return over_the_day(bench.run.diagram.flows() + i, joules);
    }
    throw std::logic_error("nothing refuses as " + cause);
  }
  void charge_gained(double share) {
    const DiagramPart& cell = bench.run.diagram.parts()[bench.part("cell")];
    day.end.state[cell.state] += share * static_cast<const Cell&>(*cell.model).parameters().capacity.si();
  }
  std::string block() { return diagnose(bench.run.diagram, simulator, day).block; }
  std::string text() { return diagnose(bench.run.diagram, simulator, day).text; }
};

const std::string lamp = "outcomes/needs-human.yaml", phantom = "outcomes/phantom-supply.yaml";

}  // namespace

TEST_CASE("blocks: a trap says what design would not have it, and its rules are those of the review") {
  // As sim/netlist/review/ has them; a rule that is renamed there is renamed here.
  const std::set<std::string> rules{"back-feed",
                                    "switch-bypassed",
                                    "gate-never-off",
                                    "gate-pull-up-weak",
                                    "lockout-hysteresis",
                                    "release-hysteresis",
                                    "burst-path-drop",
                                    "converter-always-on",
                                    "precharge-below-load",
                                    "overcharge-trip-below-charge"};
  std::set<std::string> ids;
  for (const Block& block : blocks()) {
    CAPTURE(block.id);
    CHECK(ids.insert(block.id).second);
    CHECK(&block_of(block.id) == &block);
    CHECK((block.fate == Fate::undecided) == block.rule.empty());
    CHECK(block.meaning.back() != '.');
    for (const std::string& rule : block.review) CHECK(rules.count(rule) == 1);
  }
  CHECK_THROWS_AS(block_of("spell"), std::logic_error);
  CHECK(name_of(Fate::back) == "back");
  CHECK(name_of(Fate::not_completed) == "not completed");
}

TEST_CASE("diagnosis: a controller that hangs, one that has finished, one held in reset") {
  const auto in_mode = [](Controller::Mode mode) {
    Sickbed bed(phantom, {{"charge", "40 %"}, {"logger supply", "phantom"}});
    bed.day.noon.memory[bed.bench.run.diagram.parts()[bed.bench.part("logger")].memory + Controller::mode] = mode;
    return std::pair(bed.block(), bed.text());
  };
  CHECK(in_mode(Controller::hung).first == "controller-hung");
  CHECK(in_mode(Controller::hung).second.find("no reset before its supply falls below 0.90 V") != std::string::npos);
  CHECK(in_mode(Controller::idle).first == "switch-stuck");
  CHECK(in_mode(Controller::reset).first == "half-powered");
}

TEST_CASE("diagnosis: a loop is one only if the cell gains nothing of worth") {
  Sickbed bed(lamp, {{"charge", "5 %"}});
  bed.day.starts = 250;
  CHECK(bed.block() == "reset-loop");
  CHECK(bed.text().find("started about 250 times") != std::string::npos);
  bed.charge_gained(0.9 * notable_gain);
  CHECK(bed.block() == "reset-loop");
  bed.charge_gained(0.2 * notable_gain);
  CHECK(bed.block() == "still-charging");
}

TEST_CASE("diagnosis: the clock comes before the protector, and that before the charger") {
  const std::vector<std::pair<std::string, std::string>> dead{{"charge", "40 %"}, {"guard discharge", "tripped"}};
  auto flagged = dead, lost = dead;
  flagged.push_back({"clock alarm", "flag set"});
  lost.push_back({"clock alarm", "lost"});
  lost.push_back({"clock coin cell", "gone"});
  Sickbed no_alarm(lamp, lost), to_come(lamp, dead), waits(lamp, flagged);
  for (Sickbed* bed : {&no_alarm, &to_come, &waits}) {
    bed->offered(5000);
    bed->refused("pre-charge", 4000);
  }
  CHECK(no_alarm.block() == "no-alarm");
  CHECK(to_come.block() == "alarm-to-come");
  CHECK(waits.block() == "protector-waits");
  Sickbed open_but_gaining(lamp, {{"charge", "2 %"}, {"guard discharge", "tripped"}, {"clock alarm", "flag set"}});
  open_but_gaining.charge_gained(0.01);
  CHECK(open_but_gaining.block() == "still-charging");
}

TEST_CASE("diagnosis: what the charger refuses most, if it is most of the light") {
  const auto refusing = [](const std::string& cause, double joules) {
    Sickbed bed(lamp, {{"charge", "2 %"}, {"guard discharge", "tripped"}, {"clock alarm", "flag set"}});
    bed.offered(5000);
    bed.refused("drop-out", 600);
    bed.refused(cause, joules);
    return bed.block();
  };
  CHECK(refusing("too cold", 3000) == "charger-cold");
  CHECK(refusing("too hot", 3000) == "charger-hot");
  CHECK(refusing("complete", 3000) == "charger-complete");
  CHECK(refusing("pre-charge", 3000) == "precharge-taken");
  CHECK(refusing("asleep", 3000) == "light-refused");
  CHECK(refusing("too cold", 2400) == "little-light");
  Sickbed dark(lamp, {{"charge", "2 %"}, {"guard discharge", "tripped"}, {"clock alarm", "flag set"}});
  dark.offered(0.5);
  dark.refused("pre-charge", 0.5);
  CHECK(dark.block() == "little-light");
}

TEST_CASE("diagnosis: a cell with charge and a flag, and yet no supply") {
  Sickbed bed(lamp, {{"charge", "40 %"}, {"guard discharge", "tripped"}, {"clock alarm", "flag set"}});
  // Closed again, but with the converter where it was: the controller is off.
  bed.day.noon.memory[bed.bench.run.diagram.parts()[bed.bench.part("guard")].memory] = 0;
  CHECK(bed.block() == "cut-off");
  CHECK(bed.text().rfind("the cell stands at 40.0 %, and logger gets ", 0) == 0);
}
