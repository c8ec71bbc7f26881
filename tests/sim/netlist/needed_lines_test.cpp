#include "sim/netlist/needed_lines.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

/// A part that asks the policy and sets clocks.
const ModelTable& asking() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "asking";
    t.line_inputs = {{"heard", LineKind::reading, ""}};
    t.line_outputs = {{"sets", LineKind::bus, "", nullptr}, {"high", LineKind::logic, "", nullptr}};
    t.set_policy = [](void*, std::shared_ptr<const Policy>) {};
    return t;
  }();
  return table;
}

/// A clock.
const ModelTable& set() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "set";
    t.line_inputs = {{"listens", LineKind::bus, ""}};
    return t;
  }();
  return table;
}

/// A monitor that listens to another and asks nothing.
const ModelTable& showing() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "showing";
    t.line_inputs = {{"heard", LineKind::reading, ""}};
    t.line_outputs = {{"volts", LineKind::reading, "", nullptr}};
    return t;
  }();
  return table;
}

/// A stage that does nothing without its input.
const ModelTable& driven() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "driven";
    t.line_inputs = {{"level", LineKind::logic, "", true}, {"other", LineKind::logic, ""}};
    return t;
  }();
  return table;
}

std::shared_ptr<const Policy> by_voltage() {
  PolicyParameters p;
  p.table = {{Voltage{3.5}, Duration{3600}}, {std::nullopt, Duration{600}}};
  std::vector<Finding> findings;
  return Policy::build(p, findings);
}

std::shared_ptr<const Policy> always() {
  PolicyParameters p;
  p.every = Duration{600.0};
  std::vector<Finding> findings;
  return Policy::build(p, findings);
}

/// "a"-parts ask, "c"-parts are set, "d"-parts are driven, "m"-parts show; the model of x is not known. `about` counts
/// faults of lines, too.
std::vector<std::string> faults(const std::vector<std::string>& names, const std::string& lines,
                                const std::shared_ptr<const Policy>& policy = always()) {
  Faults found;
  std::string text;
  for (const std::string& name : names) text += name + ": 1\n";
  const auto part_document = Document::parse("a.yaml", text, found);
  std::vector<ReadPart> parts;
  for (const Node::Entry& e : part_document->root().entries) {
    const char kind = e.key.text[0];
    const ModelTable* table = kind == 'a'   ? &asking()
                              : kind == 'c' ? &set()
                              : kind == 'd' ? &driven()
                              : kind == 'm' ? &showing()
                                            : nullptr;
    parts.push_back({e.key.text, "", table, nullptr, &e.key});
  }
  const Wirable wirable{parts, true};
  ReadLines read;
  const auto d = Document::parse("a.yaml", lines.empty() ? "nets: {}\n" : "lines: {" + lines + "}\n", found);
  const Node::Entry* section = d->root().find("lines");
  if (section) read = read_lines(*d, *section, wirable, found);
  check_needed_lines(*d, section, read, wirable, policy.get(), found);
  std::vector<std::string> all;
  for (const Fault& f : found.all())
    all.push_back(std::to_string(f.place.line) + " " + f.message + " | " + f.suggestion);
  return all;
}

using All = std::vector<std::string>;

const std::string unset = " nothing sets the clock's alarm: ";
const std::string untold = " the policy goes by the voltage, but nothing tells it: ";

}  // namespace

TEST_CASE("nothing is missing") {
  CHECK(faults({"a", "c", "m"}, "l: {from: a.sets, to: c.listens}, r: {from: m.volts, to: a.heard}", by_voltage())
            .empty());
  CHECK(faults({"a", "c"}, "l: {from: a.sets, to: c.listens}", always()).empty());
  CHECK(faults({"a", "c"}, "l: {from: a.sets, to: c.listens}", nullptr).empty());
  CHECK(faults({"a", "m"}, "", always()).empty());
}

TEST_CASE("without a part that sets clocks a clock stays as it is, and without a clock nothing needs setting") {
  CHECK(faults({"c", "m"}, "").empty());
  CHECK(faults({"a"}, "").empty());
  CHECK(faults({"c", "x"}, "").empty());
}

TEST_CASE("a clock that nothing sets") {
  CHECK(faults({"a", "c"}, "") ==
        All{"2" + unset + "c.listens is in no line | lines: {bus: {from: a.sets, to: c.listens}}"});
  CHECK(faults({"a", "c", "m"}, "r: {from: m.volts, to: a.heard}") ==
        All{"2" + unset + "c.listens is in no line | bus: {from: a.sets, to: c.listens}"});
}

TEST_CASE("the second clock is set by the part that sets nothing yet") {
  CHECK(faults({"a1", "a2", "c1", "c2"}, "l: {from: a1.sets, to: c1.listens}") ==
        All{"4" + unset + "c2.listens is in no line | bus: {from: a2.sets, to: c2.listens}"});
  CHECK(faults({"a1", "c1", "c2"}, "l: {from: a1.sets, to: c1.listens}") ==
        All{"3" + unset + "c2.listens is in no line | bus: {from: a1.sets, to: c2.listens}"});
}

TEST_CASE("a policy by the voltage that nothing tells") {
  CHECK(faults({"a", "m"}, "", by_voltage()) ==
        All{"1" + untold + "a.heard is in no line | lines: {battery: {from: m.volts, to: a.heard}}"});
  CHECK(faults({"a", "c"}, "l: {from: a.sets, to: c.listens}", by_voltage()) ==
        All{"1" + untold +
            "a.heard is in no line | add a part of model power-monitor, and battery: {from: MONITOR.voltage, to: "
            "a.heard}"});
}

TEST_CASE("what another fault explains is not reported again") {
  const auto one = [](const std::string& line) { return faults({"a", "c", "m"}, line, always()).size() == 1; };
  CHECK(one("l: {from: a.high, to: c.listens}"));
  CHECK(one("l: {from: a.sest, to: c.listens}"));
  CHECK(one("l: {from: a.sets, to: c.lisstens}"));
  CHECK(one("l: {from: a.sets, to: cc.listens}"));
  CHECK(one("l: {from: a.sets, too: c.listens}"));
  CHECK(one("l: a.sets"));
  CHECK(faults({"a", "x"}, "l: {from: x.volts, to: a.heard}", by_voltage()).empty());
}

TEST_CASE("an input without which its part does nothing") {
  CHECK(faults({"a", "d"}, "") ==
        All{"2 nothing drives d.level, so that d would do nothing | lines: {d: {from: a.high, "
            "to: d.level}}"});
  CHECK(faults({"a", "d"}, "l: {from: d.level, to: a.high}").size() == 1);
  CHECK(faults({"d"}, "") == All{"1 nothing drives d.level, so that d would do nothing | lines: {d: {from: "
                                 "PART.OUTPUT, to: d.level}}"});
  CHECK(faults({"a", "d"}, "l: {from: a.high, to: d.level}").empty());
}
