#include "sim/netlist/line_reader.hpp"

#include <doctest/doctest.h>

#include "tests/support/wired.hpp"

using namespace overwinter;
using test::Wired;

TEST_CASE("lines come out by name, inputs by part") {
  const Wired w("lines:\n  z: {from: t1.warm, to: t1.other}\n  a: {to: [t1.sense], from: t1.warm}\n");
  CHECK(w.faults.empty());
  REQUIRE(w.scenario.lines.size() == 2);
  CHECK(w.scenario.lines[0].name == "a");
  CHECK(w.scenario.lines[0].kind == LineKind::temperature);
  CHECK(w.scenario.lines[0].from.port == 0);
  CHECK(w.scenario.lines[0].to.at(0).port == 0);
  CHECK(w.scenario.lines[1].to.at(0).port == 1);
}

TEST_CASE("faults of lines") {
  const auto lines = [](const std::string& text) { return Wired("lines: {" + text + "}  # with r1\n").fault(); };
  CHECK(lines("l: {from: t1.warm, to: t1.sense}, m: {from: t1.warm, to: t1.sense}") ==
        "1:66 input t1.sense is driven twice | let one line drive it | 1:32");
  CHECK(lines("l: {from: t1.warm, to: [t1.sense, t1.sense]}").find("1:43 input t1.sense is driven twice") == 0);
  CHECK(lines("l: {from: t1.sense, to: t1.other}") ==
        "1:19 t1.sense is a line input, not a line output | a line goes from an output to inputs");
  CHECK(lines("l: {from: t1.warm, to: t1.warm}") ==
        "1:32 t1.warm is a line output, not a line input | a line goes from an output to inputs");
  CHECK(lines("l: {from: t1.in, to: t1.other}") == "1:19 t1.in is a pin, not a line output | connect it under nets");
  CHECK(lines("l: {from: t1.wram, to: t1.other}") == "1:22 part 't1' has no line output 'wram' | t1.warm");
  CHECK(lines("l: {from: r1.warm, to: t1.other}") ==
        "1:22 part 'r1' has no line output 'warm' | name another part: a two has none");
  CHECK(lines("l: {from: t1.warm, to: t1.level}") ==
        "1:32 t1.level takes a logic level, but the line carries a temperature | from: PART.OUTPUT of that kind");
  CHECK(lines("l: {from: t1.warm}") == "1:9 line 'l' lacks to | l: {from: PART.OUTPUT, to: PART.INPUT}");
  CHECK(lines("l: {from: , to: t1.sense}") == "1:13 line 'l' lacks from | l: {from: PART.OUTPUT, to: PART.INPUT}");
  CHECK(lines("l: {form: t1.warm, to: t1.sense}") == "1:13 a line has no key 'form' | from");
  CHECK(lines("l: {from: t1.warm, to: []}") == "1:32 line 'l' leads nowhere | list the inputs that listen to it");
  CHECK(lines("l: t1.warm").find("1:12 line 'l' needs a mapping of from and to, not 't1.warm'") == 0);
  CHECK(lines("l: ").find("1:9 line 'l' needs a mapping of from and to, not nothing") == 0);
  CHECK(lines("L: {from: t1.warm, to: t1.sense}").find("1:9 'L' is not a name for a line") == 0);
  CHECK(lines("l: {from: t2.warm, to: t1.sense}").find("1:19 there is no part 't2'") == 0);
}

namespace {

/// The fault of these lines between clocks, switches and a part with line inputs, without nets.
std::string logic(const std::string& lines) {
  return Wired("lines: {" + lines + "}  # with c1 with c2 with s1 with s2 with t1\n").fault();
}

}  // namespace

TEST_CASE("a push-pull line") {
  const Wired w("lines: {l: {from: [s1.good], to: [t1.level, s2.enable]}}\n");
  CHECK(w.faults.empty());
  REQUIRE(w.scenario.lines.size() == 1);
  CHECK(w.scenario.lines[0].kind == LineKind::logic);
  CHECK(w.scenario.lines[0].to.at(0).part == 1);
  CHECK(w.scenario.lines[0].to.at(1).part == 2);
}

TEST_CASE("who may share a line") {
  CHECK(logic("l: {from: [c1.interrupt, c2.interrupt], to: [s1.gate, s2.gate]}") == "0 faults");
  CHECK(logic("l: {from: [s1.good, s2.good], to: t1.level}") ==
        "1:29 two push-pull drivers cannot share a line | let one of them drive it | 1:20");
  CHECK(logic("l: {from: [s1.good, s1.good], to: t1.level}") ==
        "1:29 s1.good stands twice in line 'l' | remove one | 1:20");
  CHECK(Wired("lines: {l: {from: [t1.warm, s1.good], to: t1.sense}}\n").fault() ==
        "1:29 two outputs cannot share a line | let one of them drive it | 1:20");
  const std::string mixed =
      "an open-drain pin and an output that drives both ways cannot share a line | let one output drive it, or "
      "open-drain pins only | 1:20";
  CHECK(logic("l: {from: [s1.good, c1.interrupt], to: t1.level}") == "1:29 " + mixed);
  CHECK(logic("l: {from: [c1.interrupt, s1.good], to: s2.gate}") == "1:34 " + mixed);
  CHECK(logic("l: {from: [], to: t1.level}") == "1:19 nothing drives line 'l' | name the output that drives it");
}

TEST_CASE("who may listen to whom") {
  CHECK(logic("l: {from: c1.interrupt, to: s1.enable}") ==
        "1:37 an open-drain pin can drive gates only, and s1.enable takes a push-pull output | s1.gate | 1:19");
  CHECK(logic("l: {from: c1.interrupt, to: t1.sense}") ==
        "1:37 an open-drain pin can drive gates only, and t1.sense takes a temperature | from: t1.warm | 1:19");
  CHECK(logic("l: {from: s2.good, to: s1.gate}") ==
        "1:32 s1.gate is a gate and listens to open-drain pins, not to a push-pull output | from: c1.interrupt, "
        "c2.interrupt, or a part of model open-drain-stage between the two | 1:19");
  CHECK(logic("l: {from: t1.warm, to: s1.gate}") ==
        "1:32 s1.gate is a gate and listens to open-drain pins, not to a temperature output | from: c1.interrupt, "
        "c2.interrupt | 1:19");
  CHECK(logic("l: {from: s1.gate, to: t1.level}") == "1:19 s1.gate is a gate, which drives nothing | name it under to");
  CHECK(logic("l: {from: c1.interrupt, to: c2.interrupt}") ==
        "1:37 c2.interrupt is an open-drain pin, which listens to nothing | name it under from");
  CHECK(logic("l: {from: c1.supply, to: s1.gate}") ==
        "1:19 c1.supply is a pin, not a line output | connect it under nets");
  CHECK(logic("l: {from: c1.interrupt, to: s1.gat}") == "1:40 part 's1' has no line input 'gat' | s1.gate");
}

TEST_CASE("faults of pull-ups") {
  const auto pull_up = [](const std::string& text) {
    return logic("l: {from: c1.interrupt, to: s1.gate, pull_up: " + text + "}");
  };
  CHECK(pull_up("~") == "0 faults");
  CHECK(pull_up("{net: rail, resistance: 100 kohm}") == "0 faults");
  CHECK(pull_up("{net: rail, resistance: 100 kohm, series: 10 kohm}") == "0 faults");
  CHECK(pull_up("{net: rail, resistance: 1 kohm, series: 0 kohm}") ==
        "1:95 '0 kohm' is out of range: series must be above 0 kohm | series: NUMBER kohm (between the drivers and the "
        "gates; none if left out)");
  CHECK(pull_up("{net: rail}") ==
        "1:46 the pull_up of line 'l' lacks resistance | resistance: NUMBER kohm (between that net and the line)");
  CHECK(pull_up("{net: '', resistance: 1 kohm}") == "1:61 net is empty | net: TEXT");
  CHECK(pull_up("{resistance: 0 kohm, net: rail}") ==
        "1:68 '0 kohm' is out of range: resistance must be above 0 kohm | resistance: NUMBER kohm (between that net "
        "and the line)");
  CHECK(pull_up("{net: rail, resistence: 3 kohm}") == "1:67 pull_up has no key 'resistence' | resistance");
  CHECK(
      pull_up("100 kohm") ==
      "1:55 the pull_up of line 'l' must be a mapping, not '100 kohm' | pull_up: {net: NET, resistance: NUMBER kohm}");
  CHECK(logic("l: {from: s2.good, to: s1.enable, pull_up: {net: rail, resistance: 1 kohm}}") ==
        "1:43 line 'l' comes from a push-pull output and takes no pull_up | remove pull_up");
}
