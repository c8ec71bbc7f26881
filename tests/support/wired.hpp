// Nets and lines between made-up parts.
#pragma once

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/wiring.hpp"

namespace overwinter::test {

/// Two pins.
inline const ModelTable& two_pins() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "two";
    t.pins = {{"a", "", PinRole::power}, {"b", "", PinRole::power}};
    return t;
  }();
  return table;
}

/// Three pins and line ports.
inline const ModelTable& three_pins() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "three";
    t.pins = {{"in", "", PinRole::power}, {"out", "", PinRole::power}, {"ground", "", PinRole::power}};
    t.line_outputs = {{"warm", LineKind::temperature, "", nullptr}};
    t.line_inputs = {
        {"sense", LineKind::temperature, ""}, {"other", LineKind::temperature, ""}, {"level", LineKind::logic, ""}};
    return t;
  }();
  return table;
}

/// An open-drain pin.
inline const ModelTable& a_clock() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "a clock";
    t.pins = {{"supply", "", PinRole::power}, {"ground", "", PinRole::power}, {"interrupt", "", PinRole::open_drain}};
    return t;
  }();
  return table;
}

/// Two push-pull outputs, an open-drain pin and a gate.
inline const ModelTable& a_switch() {
  static const ModelTable table = [] {
    ModelTable t;
    t.name = "a switch";
    t.pins = {{"in", "", PinRole::power}, {"out", "", PinRole::power}, {"gate", "", PinRole::gate}};
    t.line_outputs = {{"good", LineKind::logic, "", nullptr}, {"full", LineKind::logic, "", nullptr}};
    t.line_inputs = {{"enable", LineKind::logic, ""}};
    return t;
  }();
  return table;
}

/// Reads `nets` and `lines`. Parts r1, r2, r3 have two pins, t1 three; c1 and c2 are clocks, s1 and s2 switches, the
/// model of x is not known. Only parts that the text names are there.
struct Wired {
  explicit Wired(const std::string& text, bool complete = true, bool lines_known = true) {
    Faults found;
    const auto parts_document =
        Document::parse("a.yaml", "r1: 1\nr2: 2\nr3: 3\nt1: 4\nx: 5\nc1: 6\nc2: 7\ns1: 8\ns2: 9\n", found);
    for (const Node::Entry& e : parts_document->root().entries) {
      const std::string& name = e.key.text;
      const ModelTable* table = name == "x"      ? nullptr
                                : name[0] == 't' ? &three_pins()
                                : name[0] == 'c' ? &a_clock()
                                : name[0] == 's' ? &a_switch()
                                                 : &two_pins();
      if (text.find(name + ".") != std::string::npos || text.find("with " + name) != std::string::npos) {
        parts.push_back({name, "", table, nullptr, &e.key});
      }
    }
    std::sort(parts.begin(), parts.end(), [](const ReadPart& a, const ReadPart& b) { return a.name < b.name; });
    for (const ReadPart& part : parts) scenario.parts.push_back({part.name, "", part.table, nullptr, {}});
    const auto d = Document::parse("a.yaml", text, found);
    read_wiring(*d, d->root().find("nets"), d->root().find("lines"), lines_known, {parts, complete}, scenario, found);
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
  Scenario scenario;
  std::vector<std::string> faults;
};

}  // namespace overwinter::test
