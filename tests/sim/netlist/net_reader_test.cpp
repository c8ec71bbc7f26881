#include "sim/netlist/net_reader.hpp"

#include <doctest/doctest.h>

#include "tests/support/wired.hpp"

using namespace overwinter;
using test::Wired;

namespace {

std::string nets(const std::string& text) { return Wired("nets: {" + text + "}\n").fault(); }

/// The fault of a clock and a switch with these pins on more nets, and these lines.
std::string with_lines(const std::string& more_nets, const std::string& lines) {
  return Wired("nets: {n: [c1.supply, s1.in, r1.a], out: [s1.out, r2.a], gnd: [c1.ground, r1.b, r2.b]" + more_nets +
               "}\nlines: {" + lines + "}\n")
      .fault();
}

}  // namespace

TEST_CASE("nets come out by name, pins by part, whatever their order in the file") {
  const Wired w("nets:\n  gnd: [r2.b, r1.b]\n  5v+: [r2.a, r1.a]\n");
  CHECK(w.faults.empty());
  REQUIRE(w.scenario.nets.size() == 2);
  CHECK(w.scenario.nets[0].name == "5v+");
  CHECK(w.scenario.nets[1].name == "gnd");
  CHECK(w.scenario.nets[1].place.line == 2);
  CHECK(w.scenario.nets[1].pins[0].part == 0);
  CHECK(w.scenario.nets[1].pins[0].pin == 1);
  CHECK(w.scenario.nets[1].pins[1].part == 1);
}

TEST_CASE("references that cannot be resolved") {
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.c]") == "1:40 part 'r2' has no pin 'c' | r2.a, r2.b");
  CHECK(nets("n: [r1.a, t1.in, t1.grond], gnd: [r1.b, t1.out]") == "1:28 part 't1' has no pin 'grond' | t1.ground");
  CHECK(nets("n: [r1.a, spare.q, r2.a], gnd: [r1.b, r2.b]").find("1:18 there is no part 'spare'") == 0);
  CHECK(nets("n: [r1.a, r1, r2.a], gnd: [r1.b, r2.b]")
            .find("1:18 'r1' is not a pin, which is written PART.PIN | r1.a, r1.b") == 0);
  CHECK(nets("n: [r1.a, .b, r2.a], gnd: [r1.b, r2.b]") ==
        "1:18 '.b' is not a pin, which is written PART.PIN | PART.PIN");
  CHECK(nets("n: [r1.a, [r2.a]], gnd: [r1.b, r2.b]").find("1:18 a pin is written PART.PIN, not a list") == 0);
  CHECK(nets("n: [r1.a, ~, r2.a], gnd: [r1.b, r2.b]").find("1:18 a pin is written PART.PIN, not nothing") == 0);
  CHECK(nets("n: [r1.a, t1.in, t1.out, t1.warm], gnd: [r1.b, t1.ground]") ==
        "1:33 t1.warm is a line output, not a pin | connect it under lines");
}

TEST_CASE("a pin belongs to one net and stands there once") {
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.b, r1.a]") ==
        "1:43 pin r1.a is already in net 'n' | a pin belongs to one net: remove one, or make the two nets one | 1:12");
  CHECK(nets("n: [r1.a, r2.a, r1.a], gnd: [r1.b, r2.b]") ==
        "1:24 pin r1.a stands twice in net 'n' | remove one | 1:12");
}

TEST_CASE("floating pins are reported once per part") {
  CHECK(Wired("nets: {n: [r1.a, t1.in], gnd: [r1.b]}\n").faults ==
        std::vector<std::string>{"4:1 pins t1.out, t1.ground are in no net | add them to nets, such as gnd, n"});
  CHECK(Wired("nets: {n: [r1.a, r2.a], gnd: [r1.b]}\n").fault() ==
        "2:1 pin r2.b is in no net | add it to nets, such as gnd, n");
}

TEST_CASE("shorted parts") {
  CHECK(Wired("nets: {n: [r1.a, r3.a], gnd: [r1.b, r3.b, r2.b, r2.a]}\n").fault() ==
        "1:49 part 'r2' is shorted: all its pins are on net 'gnd' | put its pins on different nets, or remove the part "
        "| 1:43");
  SUBCASE("two of three pins on a net are no short") {
    CHECK(Wired("nets: {n: [r1.a, t1.in, t1.out], gnd: [r1.b, t1.ground]}\n").faults.empty());
  }
}

TEST_CASE("nets that carry nothing") {
  CHECK(Wired("nets: {n: [r1.a, r2.a], gnd: [r1.b], far: [r2.b]}\n").faults ==
        std::vector<std::string>{
            "1:25 net 'gnd' has one pin only, so no current can flow there | add the pins it leads to",
            "1:38 net 'far' has one pin only, so no current can flow there | add the pins it leads to"});
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.b], empty: []") ==
        "1:44 net 'empty' has no pins | list them, or remove the net");
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.b], empty: ") ==
        "1:44 net 'empty' has no pins | list them, or remove the net");
  CHECK(nets("n: r1.a, gnd: [r2.b]") == "1:11 net 'n' needs the list of its pins, not 'r1.a' | [r1.a]");
}

TEST_CASE("the reference") {
  CHECK(nets("n: [r1.a, r2.a], m: [r1.b, r2.b]") ==
        "1:1 there is no net gnd, the reference of all voltages | add a net gnd");
  CHECK(nets("n: [r1.a, r2.a], ground: [r1.b, r2.b]").find("| rename net ground to gnd") != std::string::npos);
  CHECK(nets("n: [r1.a, r2.a], GND: [r1.b, r2.b]") ==
        "1:25 'GND' is not a name for a net: use lower-case letters, digits and - + _ ., and begin with a letter or "
        "digit | gnd");
}

TEST_CASE("nets without a path to the reference") {
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.b], p: [r3.a, t1.in], q: [r3.b, t1.out, t1.ground]") ==
        "1:44 nets p, q have no path to gnd through any part | put a pin of one of their parts on gnd");
  SUBCASE("a part of unknown model may be the path") {
    CHECK(
        Wired("nets: {n: [r1.a, r2.a, x.y], gnd: [r1.b, r2.b], p: [r3.a, t1.in, x.z], q: [r3.b, t1.out, t1.ground]}\n")
            .faults.empty());
  }
}

TEST_CASE("one cause, one fault") {
  SUBCASE("a misspelled pin is not floating") {
    CHECK(nets("n: [r1.a, t1.in, t1.out], gnd: [r1.b, t1.grund]").find("1:49 ") == 0);
  }
  SUBCASE("nor a pin of a misspelled part") {
    CHECK(nets("n: [t1.in, t1.out, r1.a], gnd: [t1.ground, rr1.b]").find("1:51 ") == 0);
  }
  SUBCASE("nor a pin with the name of one of an unknown part") {
    CHECK(nets("n: [t1.in, t1.out, r1.a], gnd: [t1.ground, battery.b]").find("1:51 ") == 0);
  }
  SUBCASE("nor anything when a net could not be read") { CHECK(nets("n: 3, gnd: [r1.b, r2.b]").find("1:11 ") == 0); }
  SUBCASE("an unknown part may stand in a broken section") {
    CHECK(Wired("nets: {n: [r1.a, q.a], gnd: [r1.b, q.b]}\n", false).faults.empty());
  }
}

TEST_CASE("open-drain pins and gates stand in a line or on a net, once") {
  const std::string wake = "w: {from: c1.interrupt, to: s1.gate}";
  CHECK(with_lines("", wake) == "0 faults");
  CHECK(with_lines(", p: [c1.interrupt, s1.gate]", "") == "0 faults");
  CHECK(with_lines(", p: [s1.gate, r3.a], q: [r3.b, c1.interrupt]", "") == "0 faults");
  CHECK(with_lines(", p: [c1.interrupt, s1.gate]", wake) == "2 faults");
  CHECK(with_lines("", "w: {from: c1.interrupt, to: [s1.gate, s1.gate]}") ==
        "2:47 pin s1.gate stands twice in line 'w' | remove one | 2:38");
}

TEST_CASE("a pin that stands in two lines") {
  const Wired w(
      "nets: {n: [c1.supply, s1.in, s2.in, r1.a], out: [s1.out, s2.out, r2.a], gnd: [c1.ground, r1.b, r2.b]}\n"
      "lines: {w: {from: c1.interrupt, to: s1.gate}, v: {from: c1.interrupt, to: s2.gate}}\n");
  CHECK(w.fault() ==
        "2:57 pin c1.interrupt is already in line 'w' | a pin belongs to one net or one line: remove one | 2:19");
}

TEST_CASE("a pin of a line that stands nowhere") {
  CHECK(Wired("nets: {n: [c1.supply, r1.a], gnd: [c1.ground, r1.b]}\n").fault() ==
        "6:1 pin c1.interrupt is in no line and no net | name it in a line, or tie it to gnd");
  SUBCASE("but a fault may hide the lines") {
    CHECK(Wired("nets: {n: [c1.supply, r1.a], gnd: [c1.ground, r1.b]}\n", true, false).faults.empty());
  }
  SUBCASE("or a fault in a line explain it") {
    CHECK(with_lines("", "w: {from: c1.interupt, to: s1.gate}") ==
          "2:22 part 'c1' has no line output 'interupt' | c1.interrupt");
    CHECK(with_lines("", "w: {from: cc1.interrupt, to: s1.gate}").find("2:19 there is no part 'cc1'") == 0);
    CHECK(with_lines("", "w: c1.interrupt").find("2:12 line 'w' needs a mapping of from and to") == 0);
  }
}

TEST_CASE("the net that pulls a line up") {
  const auto pulled = [](const std::string& name, const std::string& net) {
    return with_lines("",
                      name + ": {from: c1.interrupt, to: s1.gate, pull_up: {net: " + net + ", resistance: 1 kohm}}");
  };
  CHECK(pulled("w", "n") == "0 faults");
  CHECK(pulled("w", "outt") == "2:61 line 'w' is pulled up to 'outt', but there is no such net | out");
  CHECK(pulled("w", "w") == "2:61 line 'w' is pulled up to 'w', but there is no such net | one of gnd, n, out");
  CHECK(pulled("w", "gnd") == "2:61 a pull-up to gnd keeps the line low for ever | name the net of a supply");
  CHECK(pulled("out", "n") ==
        "2:9 line 'out' has the name of a net | an electrical line is a net of its own: give it another name | 1:37");
  SUBCASE("it is a path to the reference, and company for a lone pin") {
    CHECK(Wired("nets: {n: [c1.supply, s1.in, r1.a], m: [s1.out], gnd: [c1.ground, r1.b]}\n"
                "lines: {w: {from: c1.interrupt, to: s1.gate, pull_up: {net: m, resistance: 1 kohm}}}\n")
              .faults.empty());
  }
}
