#include "sim/netlist/wiring.hpp"

#include <doctest/doctest.h>

#include "models/catalogue.hpp"
#include "tests/support/wired.hpp"

using namespace overwinter;
using test::Wired;

namespace {

/// "n: part.pin part.pin" of a net.
std::string text(const Scenario& s, const ScenarioNet& net) {
  std::string all = net.name + ":";
  for (const PinRef ref : net.pins)
    all += " " + s.parts[ref.part].name + "." + s.parts[ref.part].table->pins[ref.pin].name;
  return all;
}

}  // namespace

TEST_CASE("an electrical line is a net with its pull-up, and parts stay in name order") {
  const Wired w(
      "nets: {n: [c1.supply, c2.supply, s1.in, r1.a], out: [s1.out, s2.in, s2.out, t1.in, t1.out],\n"
      "  gnd: [c1.ground, c2.ground, r1.b, t1.ground]}\n"
      "lines:\n"
      "  t: {from: s1.good, to: [t1.level, s2.enable]}\n"
      "  d: {from: [c2.interrupt, c1.interrupt], to: [s2.gate, s1.gate], pull_up: {net: n, resistance: 47 kohm}}\n");
  REQUIRE(w.faults.empty());
  const Scenario& s = w.scenario;
  REQUIRE(s.parts.size() == 7);
  const std::vector<std::string> names = {"c1", "c2", "d pull-up", "r1", "s1", "s2", "t1"};
  for (std::size_t i = 0; i < names.size(); ++i) CHECK(s.parts[i].name == names[i]);
  CHECK(s.parts[2].table == find_model("resistor"));
  CHECK(s.parts[2].place.line == 5);
  REQUIRE(s.nets.size() == 4);
  CHECK(text(s, s.nets[0]) == "d: c1.interrupt c2.interrupt d pull-up.b s1.gate s2.gate");
  CHECK(text(s, s.nets[1]) == "gnd: c1.ground c2.ground r1.b t1.ground");
  CHECK(text(s, s.nets[2]) == "n: c1.supply c2.supply d pull-up.a r1.a s1.in");
  CHECK(text(s, s.nets[3]) == "out: s1.out s2.in s2.out t1.in t1.out");
  REQUIRE(s.lines.size() == 1);
  CHECK(s.lines[0].name == "t");
  CHECK(s.parts[s.lines[0].from.part].name == "s1");
  REQUIRE(s.lines[0].to.size() == 2);
  CHECK(s.parts[s.lines[0].to[0].part].name == "s2");
  CHECK(s.parts[s.lines[0].to[1].part].name == "t1");
}

TEST_CASE("the resistance of a pull-up reaches the resistor") {
  const Wired w(
      "nets: {n: [c1.supply, s1.in, r1.a], m: [s1.out, r2.a], gnd: [c1.ground, r1.b, r2.b]}\n"
      "lines: {w: {from: c1.interrupt, to: s1.gate, pull_up: {net: n, resistance: 2 kohm}}}\n");
  REQUIRE(w.faults.empty());
  const ScenarioPart& part = w.scenario.parts.back();
  REQUIRE(part.name == "w pull-up");
  double resistance = 0;
  part.model->drive(Ambient{}, &resistance);
  CHECK(resistance == 2000);
}

TEST_CASE("without a pull-up no part is added") {
  const Wired w(
      "nets: {n: [c1.supply, s1.in, r1.a], m: [s1.out, r2.a], gnd: [c1.ground, r1.b, r2.b]}\n"
      "lines: {w: {from: c1.interrupt, to: s1.gate}}\n");
  CHECK(w.faults.empty());
  CHECK(w.scenario.parts.size() == 4);
  REQUIRE(w.scenario.nets.size() == 4);
  CHECK(text(w.scenario, w.scenario.nets[3]) == "w: c1.interrupt s1.gate");
}

TEST_CASE("a resistor between drivers and gates parts the line in two nets") {
  const Wired w(
      "nets: {n: [c1.supply, c2.supply, s1.in, r1.a], m: [s1.out, r2.a], gnd: [c1.ground, c2.ground, r1.b, r2.b]}\n"
      "lines: {w: {from: [c1.interrupt, c2.interrupt], to: s1.gate,\n"
      "            pull_up: {net: n, resistance: 100 kohm, series: 10 kohm}}}\n");
  REQUIRE(w.faults.empty());
  const Scenario& s = w.scenario;
  REQUIRE(s.parts.size() == 7);
  CHECK(s.parts[5].name == "w pull-up");
  CHECK(s.parts[6].name == "w series");
  REQUIRE(s.nets.size() == 5);
  CHECK(text(s, s.nets[3]) == "w: s1.gate w pull-up.b w series.a");
  CHECK(text(s, s.nets[4]) == "w drivers: c1.interrupt c2.interrupt w series.b");
  double resistance = 0;
  s.parts[6].model->drive(Ambient{}, &resistance);
  CHECK(resistance == 10e3);
}
