#include "sim/netlist/corners.hpp"

#include <doctest/doctest.h>

#include "models/catalogue.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "models/storage/capacitor.hpp"
#include "sim/netlist/explain.hpp"
#include "sim/netlist/part_reader.hpp"

using namespace overwinter;

namespace {

std::vector<std::string> texts(const Faults& faults) {
  std::vector<std::string> all;
  for (const Fault& f : faults.all()) {
    all.push_back(f.place.file + ":" + std::to_string(f.place.line) + ":" + std::to_string(f.place.column) + " " +
                  f.message + (f.suggestion.empty() ? "" : " | " + f.suggestion));
  }
  return all;
}

/// What a file with that one class is told.
std::vector<std::string> class_faults(const std::string& body) {
  Faults faults;
  PartLibrary library;
  library.add(Document::parse("own.yaml", "own:\n  model: resistor\n  " + body + "\n", faults), false, faults);
  return texts(faults);
}

struct Read {
  explicit Read(const std::string& part) {
    PartLibrary library = PartLibrary::built_in();
    Faults found;
    library.add(Document::parse("own.yaml",
                                "wire: {model: resistor, resistance: {nominal: 1 ohm, high: 1.2 ohm}}\n"
                                "plain: {model: resistor, resistance: 1 ohm}\n",
                                found),
                false, found);
    document = Document::parse("a.yaml", "x: " + part + "\n", found);
    parts = read_parts(*document, document->root(), library, {}, found);
    faults = texts(found);
  }
  template <class M>
  const auto& parameters() const {
    return dynamic_cast<const M&>(*parts.at(0).model).parameters();
  }
  std::shared_ptr<const Document> document;
  std::vector<ReadPart> parts;
  std::vector<std::string> faults;
};

using Texts = std::vector<std::string>;

const char* const form = "resistance: {nominal: NUMBER ohm, low: NUMBER ohm, high: NUMBER ohm}";

}  // namespace

TEST_CASE("a part takes the nominal value, or the corner that it asks for") {
  CHECK(Read("{part: wire}").parameters<Resistor>().resistance.si() == 1);
  CHECK(Read("{part: wire, corners: {resistance: nominal}}").parameters<Resistor>().resistance.si() == 1);
  CHECK(Read("{part: wire, corners: {resistance: high}}").parameters<Resistor>().resistance.si() == 1.2);
  CHECK(Read("{part: wire, corners: ~}").faults.empty());
  const auto guard = [](const char* corners) {
    return Read(std::string("{part: protector-2a5-voltage, corners: {") + corners + "}}")
        .parameters<Protector>()
        .overdischarge_voltage.si();
  };
  CHECK(guard("overdischarge_voltage: low") == doctest::Approx(2.75));
  CHECK(guard("overdischarge_voltage: high, consumption: high") == doctest::Approx(2.85));
  CHECK(guard("") == doctest::Approx(2.8));
}

TEST_CASE("of a curve each corner is a whole curve") {
  const auto at_4v5 = [](const char* corners) {
    const Read r(std::string("{part: p-switch-logic-30mohm, gate_pull_up: 1 Mohm, corners: {") + corners + "}}");
    CHECK(r.faults.empty());
    return r.parameters<PSwitch>().on_resistance(4.5);
  };
  CHECK(at_4v5("") == doctest::Approx(0.030));
  CHECK(at_4v5("on_resistance: high") == doctest::Approx(0.038));
}

TEST_CASE("corners in a scenario that cannot be meant") {
  CHECK(Read("{part: wire, corners: {resistance: low}}").faults ==
        Texts{"a.yaml:1:39 part class 'wire' gives of resistance nominal, high, not 'low' | one of nominal, high"});
  CHECK(Read("{part: wire, corners: {resistence: high}}").faults ==
        Texts{"a.yaml:1:27 part class 'wire' gives no corner values of 'resistence' | resistance"});
  CHECK(Read("{part: plain, corners: {resistance: high}}").faults ==
        Texts{"a.yaml:1:28 part class 'plain' gives no corner values of 'resistance' | the value itself, beside part"});
  CHECK(Read("{part: wire, corners: high}").faults ==
        Texts{"a.yaml:1:26 corners must name parameters, each with low, high or nominal, not 'high' | "
              "corners: {PARAMETER: high}"});
  CHECK(Read("{model: resistor, resistance: 1 ohm, corners: {resistance: high}}").faults ==
        Texts{"a.yaml:1:41 corners are those of a part class, and the part names none | part: PART CLASS"});
  CHECK(Read("{part: wire, resistance: 2 ohm, corners: {resistance: high}}").faults ==
        Texts{"a.yaml:1:46 resistance has a value of its own in this part, which no corner changes | "
              "keep one of the two"});
  // Corner values belong to a class; a part has one value.
  CHECK(Read("{model: resistor, resistance: {nominal: 1 ohm, high: 2 ohm}}").faults ==
        Texts{"a.yaml:1:34 resistance needs one value, not a mapping | resistance: NUMBER ohm"});
}

TEST_CASE("corners in a class that cannot be meant") {
  CHECK(class_faults("resistance: {nominal: 2 ohm, low: 1 ohm, high: 3 ohm}").empty());
  CHECK(class_faults("resistance: {nominal: 2 ohm, low: 2 ohm}").empty());
  CHECK(class_faults("resistance: {nominal: 2 ohm, low: 2.1 ohm, high: 3 ohm}") ==
        Texts{"own.yaml:3:37 resistance: low is above nominal | low at most nominal, nominal at most high"});
  CHECK(class_faults("resistance: {nominal: 2 ohm, high: 1 ohm}") ==
        Texts{"own.yaml:3:38 resistance: nominal is above high | low at most nominal, nominal at most high"});
  CHECK(class_faults("resistance: {low: 2 ohm, high: 3 ohm}") ==
        Texts{std::string("own.yaml:3:3 resistance lacks its nominal value | ") + form});
  CHECK(class_faults("resistance: {nominal: 2 ohm}") ==
        Texts{std::string("own.yaml:3:3 resistance has a nominal value alone, and neither a low nor a high one | ") +
              form});
  CHECK(class_faults("resistance: {nominal: 2 ohm, hihg: 3 ohm}") ==
        Texts{"own.yaml:3:32 resistance has no corner 'hihg' | high"});
  CHECK(class_faults("resistance: {nominal: 2 ohm, high: 3 V}").size() == 1);
  CHECK(class_faults("resistance: {nominal: -2 ohm, high: 3 ohm}").size() == 1);
}

TEST_CASE("a curve's corners are held against it at every point of either") {
  Faults faults;
  PartLibrary library;
  library.add(Document::parse("own.yaml",
                              "own:\n  model: p-switch\n  threshold: 1 V\n  gate_capacitance: 1 nF\n  on_resistance:\n"
                              "    nominal: {gate_drive: 2.5 8 V, resistance: 40 30 mohm}\n"
                              "    high: {gate_drive: 2.5 5 8 V, resistance: 50 32 31 mohm}\n",
                              faults),
              false, faults);
  CHECK(texts(faults) == Texts{"own.yaml:7:5 on_resistance: nominal is at gate_drive 5 V above high | low at most "
                               "nominal, nominal at most high"});
}

TEST_CASE("explain shows the corners of a class, with where the datasheet has them") {
  const std::string text = explain("protector-2a5-voltage");
  CHECK(text.find("2.8 V") != std::string::npos);
  CHECK(text.find("low 2.75 V, high 2.85 V") != std::string::npos);
  CHECK(text.find("high 6 uA") != std::string::npos);
  CHECK(text.find("[\"current consumption during operation\"]") != std::string::npos);
}
