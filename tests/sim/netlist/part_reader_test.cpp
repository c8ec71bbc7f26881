#include "sim/netlist/part_reader.hpp"

#include <doctest/doctest.h>

#include "models/catalogue.hpp"

using namespace overwinter;

namespace {

const char* const own_classes =
    "bleeder: {model: resistor, resistance: 10 kohm}\nwire: {model: resistor, temperature_coefficient: 0.004 1/K}\n"
    "unsound: {model: resistor, resistance: 1 V}\n"
    "short-curve: {model: cell, capacity: 1 Ah, open_circuit_voltage: {charge: 10 100 %, voltage: 3 4 V},\n"
    "  series_resistance: {charge: 0 %, resistance: 1 ohm}, pair_1_resistance: {charge: 0 %, resistance: 1 ohm},\n"
    "  pair_2_resistance: {charge: 0 %, resistance: 1 ohm}, pair_1_time: 1 s, pair_2_time: 9 s,\n"
    "  usable_capacity: {temperature: 20 degC, share: 100 %}}\n";

struct Read {
  explicit Read(const std::string& text, bool complete = true, const ReadPolicy& policy = {}) {
    Faults class_faults, found;
    PartLibrary library = PartLibrary::built_in();
    library.add(Document::parse("own.yaml", own_classes, class_faults), false, class_faults);
    if (!complete) library.set_incomplete();
    document = Document::parse("a.yaml", text, found);
    parts = read_parts(*document, document->root(), library, policy, found);
    for (const Fault& f : found.all()) {
      faults.push_back((f.place.file == "a.yaml" ? "" : f.place.file + ":") + std::to_string(f.place.line) + ":" +
                       std::to_string(f.place.column) + " " + f.message +
                       (f.suggestion.empty() ? "" : " | " + f.suggestion));
    }
  }
  std::string fault() const { return faults.size() == 1 ? faults.front() : std::to_string(faults.size()) + " faults"; }

  std::shared_ptr<const Document> document;
  std::vector<ReadPart> parts;
  std::vector<std::string> faults;
};

const char* const built_in_cell = "nmc-18650-3000mah";

}  // namespace

TEST_CASE("parts come out by name with their model") {
  const Read r(
      "b: {model: resistor, resistance: 1 ohm}\na: {part: bleeder}\nc: {model: resistor, part: wire, resistance: 1 "
      "ohm}\n");
  CHECK(r.faults.empty());
  REQUIRE(r.parts.size() == 3);
  CHECK(r.parts[0].name == "a");
  CHECK(r.parts[0].part_class == "bleeder");
  CHECK(r.parts[1].part_class.empty());
  for (const ReadPart& part : r.parts) {
    CHECK(part.table == find_model("resistor"));
    CHECK(static_cast<bool>(part.model));
  }
}

TEST_CASE("null restores the default of the model, not of the class") {
  CHECK(Read("a: {part: bleeder, resistance: ~}\n").fault() ==
        "1:1 part 'a' of model resistor lacks resistance | resistance: NUMBER ohm (resistance at 20 degC)");
}

TEST_CASE("model and class") {
  CHECK(Read("a: {model: resister}").fault() == "1:12 there is no model 'resister' | resistor");
  CHECK(Read("a: {model: zzz}")
            .fault()
            .find("1:12 there is no model 'zzz' | one of " + catalogue().front()->name + ", ") == 0);
  CHECK(Read("a: {part: bleedr}").fault() ==
        "1:11 there is no part class 'bleedr' | bleeder (one of bleeder, unsound, wire)");
  CHECK(Read("a: {model: resistor, part: zzz}").fault() ==
        "1:28 there is no part class 'zzz' of model resistor | one of bleeder, unsound, wire");
  CHECK(Read("a: {model: schottky, part: bleeder}").fault() ==
        "1:12 part class 'bleeder' is of model resistor, not schottky | model: resistor");
  CHECK(Read("a: {model: [resistor]}").fault() == "1:12 model must be the name of a model, not a list | model: MODEL");
  CHECK(Read("a: {model: ~, part: [bleeder]}").fault() ==
        "1:21 part must be the name of a part class, not a list | part: PART CLASS");
  CHECK(Read("a: {resistance: 1 ohm}").fault().find("1:1 part 'a' names neither a model nor a part class") == 0);
  CHECK(Read("a: {modle: resistor}").fault() == "1:5 part 'a' has no key 'modle' | model");
  CHECK(Read("a:").fault().find("1:1 part 'a' must be a mapping, not nothing") == 0);
  CHECK(Read("a: resistor").fault().find("1:4 part 'a' must be a mapping, not 'resistor'") == 0);
  CHECK(Read("A: {part: bleeder}").fault().find("1:1 'A' is not a name for a part") == 0);
}

TEST_CASE("an unknown class draws no further complaints, but what is written is checked") {
  CHECK(Read("a: {model: resistor, part: bleedr}").faults.size() == 1);
  CHECK(Read("a: {model: resistor, part: bleedr, resistance: -1 ohm}").faults.size() == 2);
}

TEST_CASE("no complaint about an unknown class when a class file could not be read") {
  CHECK(Read("a: {part: mine}", false).faults.empty());
  CHECK(Read("a: {model: resistor, part: mine, resistance: -1 ohm}", false).faults.size() == 1);
}

TEST_CASE("an unsound class was complained about where it stands") {
  const Read r("a: {part: unsound}\nb: {part: unsound, resistance: 1 ohm}\n");
  CHECK(r.faults ==
        std::vector<std::string>{"own.yaml:3:42 'V' measures a voltage; resistance is given in ohm | a number in ohm"});
  CHECK_FALSE(static_cast<bool>(r.parts[0].model));
}

TEST_CASE("findings of a model stand at the key, wherever it is written") {
  const std::string cell = std::string("a: {part: ") + built_in_cell;
  CHECK(Read(cell + ", open_circuit_voltage: {charge: 10 100 %, voltage: 3 4 V}}")
            .fault()
            .find("1:52 the curve does not span") == 0);
  CHECK(Read("a: {part: short-curve}").fault().find("own.yaml:4:66 the curve does not span the whole charge") == 0);
  CHECK(Read("a: {model: load, kind: power}").fault() == "1:24 a load of kind power needs its power | add power");
  CHECK(Read("a: {model: load}").fault().find("1:1 a load of kind ") == 0);
}

TEST_CASE("several required parameters that are missing are one fault, which offers the classes") {
  const std::string fault = Read("a: {model: cell}").fault();
  CHECK(fault.find("1:1 part 'a' of model cell lacks capacity, open_circuit_voltage, ") == 0);
  CHECK(fault.find("| part: lfp-18650-1500mah (one of lfp-18650-1500mah, nmc-18650-3000mah, ") != std::string::npos);
}

TEST_CASE("faults of all parts are found at once") {
  const Read r("a: {model: resistor, resistance: 0 ohm, colour: red}\nb: {model: resistor}\nc: {part: x}\n");
  CHECK(r.faults.size() == 4);
  for (const ReadPart& part : r.parts) CHECK_FALSE(static_cast<bool>(part.model));
}

TEST_CASE("a part that asks the wake policy is given it") {
  const std::string text =
      "a: {model: controller, minimum_supply: 2 V, maximum_supply: 4 V, brownout_threshold: 2.5 V, boot_time: 10 ms, "
      "boot_current: 3 mA, idle_current: 1 mA, phases: [{name: measure, duration: 2 s, current: 5 mA}]}\n";
  PolicyParameters every;
  every.every = Duration{1800};
  std::vector<Finding> findings;
  const ReadPolicy good{Policy::build(every, findings), true}, faulty{nullptr, true};
  const Read given(text, true, good);
  CHECK(given.faults.empty());
  CHECK(static_cast<bool>(given.parts.at(0).model));
  CHECK(good.policy.use_count() == 3);  // here, in the model and in its parameters
  CHECK(Read(text).fault() == "1:1 part 'a' asks a wake policy, but the scenario has none | policy: {every: 30 min}");
  SUBCASE("a faulty policy is no reason to say there is none") {
    const Read r(text, true, faulty);
    CHECK(r.faults.empty());
    CHECK_FALSE(static_cast<bool>(r.parts.at(0).model));
  }
  SUBCASE("parts that do not ask go without") {
    Read("b: {part: bleeder}\n", true, good);
    CHECK(good.policy.use_count() == 3);
  }
}
