#include "sim/netlist/wiring.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

const ModelTable& two_pins() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "two";
    t.pins = {{"a", ""}, {"b", ""}};
    return t;
  }();
  return table;
}
/// Three pins, line ports, and an input of another kind of line.
const ModelTable& three_pins() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "three";
    t.pins = {{"in", ""}, {"out", ""}, {"ground", ""}};
    t.line_outputs = {{"warm", LineKind::temperature, "", nullptr}};
    t.line_inputs = {{"sense", LineKind::temperature, ""},
                     {"other", LineKind::temperature, ""},
                     {"level", static_cast<LineKind>(99), ""}};
    return t;
  }();
  return table;
}

/// Reads `nets` and `lines` for parts r1, r2, r3 of two pins, t1 of three, and x, whose model is not known.
struct Wired {
  explicit Wired(const std::string& text, bool complete = true) {
    Faults found;
    const auto parts_document = Document::parse("a.yaml", "r1: 1\nr2: 2\nr3: 3\nt1: 4\nx: 5\n", found);
    for (const Node::Entry& e : parts_document->root().entries) {
      const std::string& name = e.key.text;
      const ModelTable* table = name == "x" ? nullptr : name == "t1" ? &three_pins() : &two_pins();
      if (text.find(name + ".") != std::string::npos || text.find("with " + name) != std::string::npos) {
        parts.push_back({name, "", table, nullptr, &e.key});
      }
    }
    const auto d = Document::parse("a.yaml", text, found);
    const Wirable wirable{parts, complete};
    if (const Node::Entry* e = d->root().find("nets")) nets = read_nets(*d, *e, wirable, found);
    if (const Node::Entry* e = d->root().find("lines")) lines = read_lines(*d, *e, wirable, found);
    for (const Fault& f : found.all()) {
      std::string line = std::to_string(f.place.line) + ":" + std::to_string(f.place.column) + " " + f.message;
      if (!f.suggestion.empty()) line += " | " + f.suggestion;
      for (const auto& o : f.others)
        line += " | " + std::to_string(o.place.line) + ":" + std::to_string(o.place.column);
      faults.push_back(line);
    }
  }
  std::string fault() const { return faults.size() == 1 ? faults.front() : std::to_string(faults.size()) + " faults"; }

  std::vector<ReadPart> parts;
  std::vector<ScenarioNet> nets;
  std::vector<ScenarioLine> lines;
  std::vector<std::string> faults;
};

std::string nets(const std::string& text) { return Wired("nets: {" + text + "}\n").fault(); }

}  // namespace

TEST_CASE("nets come out by name, pins by part, whatever their order in the file") {
  const Wired w("nets:\n  gnd: [r2.b, r1.b]\n  5v+: [r2.a, r1.a]\n");
  CHECK(w.faults.empty());
  REQUIRE(w.nets.size() == 2);
  CHECK(w.nets[0].name == "5v+");
  CHECK(w.nets[1].name == "gnd");
  CHECK(w.nets[1].place.line == 2);
  CHECK(w.nets[1].pins[0].part == 0);
  CHECK(w.nets[1].pins[0].pin == 1);
  CHECK(w.nets[1].pins[1].part == 1);
}

TEST_CASE("references that cannot be resolved") {
  CHECK(nets("n: [r1.a, r2.a], gnd: [r1.b, r2.c]") == "1:40 part 'r2' has no pin 'c' | r2.a, r2.b");
  CHECK(nets("n: [r1.a, t1.in, t1.grond], gnd: [r1.b, t1.out]") == "1:28 part 't1' has no pin 'grond' | t1.ground");
  CHECK(nets("n: [r1.a, spare.q, r2.a], gnd: [r1.b, r2.b]").find("1:18 there is no part 'spare'") == 0);
  CHECK(nets("n: [r1.a, r1, r2.a], gnd: [r1.b, r2.b]")
            .find("1:18 'r1' is not a pin, which is written PART.PIN | r1.a, r1.b") == 0);
  CHECK(nets("n: [r1.a, .b, r2.a], gnd: [r1.b, r2.b]") == "1:18 '.b' is not a pin, which is written PART.PIN");
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

TEST_CASE("lines come out by name, inputs by part") {
  const Wired w("lines:\n  z: {from: t1.warm, to: t1.other}\n  a: {to: [t1.sense], from: t1.warm}\n");
  CHECK(w.faults.empty());
  REQUIRE(w.lines.size() == 2);
  CHECK(w.lines[0].name == "a");
  CHECK(w.lines[0].kind == LineKind::temperature);
  CHECK(w.lines[0].from.port == 0);
  CHECK(w.lines[0].to.at(0).port == 0);
  CHECK(w.lines[1].to.at(0).port == 1);
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
  CHECK(lines("l: {from: r1.warm, to: t1.other}") == "1:22 part 'r1' has no line output 'warm'");
  CHECK(lines("l: {from: t1.warm, to: t1.level}").find("1:32 t1.level takes a ") == 0);
  CHECK(lines("l: {from: t1.warm}") == "1:9 line 'l' lacks to | l: {from: PART.OUTPUT, to: PART.INPUT}");
  CHECK(lines("l: {from: , to: t1.sense}") == "1:13 line 'l' lacks from | l: {from: PART.OUTPUT, to: PART.INPUT}");
  CHECK(lines("l: {form: t1.warm, to: t1.sense}") == "1:13 a line has no key 'form' | from");
  CHECK(lines("l: {from: t1.warm, to: []}") == "1:32 line 'l' leads nowhere | list the inputs that listen to it");
  CHECK(lines("l: t1.warm").find("1:12 line 'l' needs a mapping of from and to, not 't1.warm'") == 0);
  CHECK(lines("l: ").find("1:9 line 'l' needs a mapping of from and to, not nothing") == 0);
  CHECK(lines("L: {from: t1.warm, to: t1.sense}").find("1:9 'L' is not a name for a line") == 0);
  CHECK(lines("l: {from: t2.warm, to: t1.sense}").find("1:19 there is no part 't2'") == 0);
}
