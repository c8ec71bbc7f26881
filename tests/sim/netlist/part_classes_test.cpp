#include "sim/netlist/part_classes.hpp"

#include <doctest/doctest.h>

#include "models/catalogue.hpp"
#include "sim/netlist/corners.hpp"
#include "sim/netlist/part_reader.hpp"

using namespace overwinter;

namespace {

/// Adds the texts as files 0.yaml, 1.yaml, ... to a copy of the built-in classes and returns the faults.
std::vector<std::string> faults_of(const std::vector<std::string>& texts,
                                   PartLibrary library = PartLibrary::built_in()) {
  Faults faults;
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const auto d = Document::parse(std::to_string(i) + ".yaml", texts[i], faults);
    if (d) library.add(d, false, faults);
  }
  std::vector<std::string> result;
  for (const Fault& f : faults.all()) {
    std::string text =
        f.place.file + ":" + std::to_string(f.place.line) + ":" + std::to_string(f.place.column) + " " + f.message;
    if (!f.suggestion.empty()) text += " | " + f.suggestion;
    for (const auto& o : f.others) text += " | " + o.place.file + ":" + std::to_string(o.place.line);
    result.push_back(text);
  }
  return result;
}

using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("every built-in class is sound and has a note") {
  const PartLibrary& library = PartLibrary::built_in();
  CHECK(library.is_complete());
  CHECK(library.all().size() >= 8);
  for (const auto& [name, c] : library.all()) {
    CAPTURE(name);
    CHECK(c.sound);
    CHECK(c.built_in);
    CHECK(c.table != nullptr);
    CHECK_FALSE(c.note.empty());
    CHECK(library.find(name) == &c);
  }
}

namespace {

std::string some_value(const Field& field) {
  return field.kind == FieldKind::rows ? "[{name: a, duration: 1 s, current: 1 mA}]" : "1 " + field.unit.text;
}

}  // namespace

TEST_CASE("every built-in class makes a part once the scenario gives what the class leaves to it") {
  PolicyParameters every;
  every.every = Duration{1800};
  std::vector<Finding> none;
  const ReadPolicy policy{Policy::build(every, none), true};
  for (const auto& [name, c] : PartLibrary::built_in().all()) {
    CAPTURE(name);
    Faults faults;
    const WrittenValues written = written_values(c);
    std::string text = "x: {part: " + name;
    for (const Field* field : missing_fields(c.table->fields, written))
      text += ", " + field->key + ": " + some_value(*field);
    const auto d = Document::parse("a.yaml", text + "}\n", faults);
    const std::vector<ReadPart> parts = read_parts(*d, d->root(), PartLibrary::built_in(), policy, faults);
    for (const Fault& f : faults.all()) FAIL_CHECK(f.message);
    CHECK(static_cast<bool>(parts.at(0).model));
  }
}

TEST_CASE("no parameter of a model has the name of a part's own key") {
  for (const ModelTable* table : catalogue()) {
    for (const char* key : {"model", "part", "note", "corners", "nominal", "low", "high"})
      CHECK(table->field(key) == nullptr);
  }
}

TEST_CASE("a class of one's own") {
  PartLibrary library = PartLibrary::built_in();
  Faults faults;
  library.add(
      Document::parse("own.yaml", "drain-10k:\n  model: resistor\n  note: bleeder\n  resistance: 10 kohm  # printed\n",
                      faults),
      false, faults);
  CHECK(faults.empty());
  const PartClass* c = library.find("drain-10k");
  REQUIRE(c != nullptr);
  CHECK(c->note == "bleeder");
  CHECK(c->table == find_model("resistor"));
  CHECK_FALSE(c->built_in);
  CHECK(library.names(find_model("resistor")) == Lines{"drain-10k"});
  CHECK(PartLibrary::built_in().find("drain-10k") == nullptr);
}

TEST_CASE("a class may leave required parameters to the scenario") {
  CHECK(faults_of({"wire: {model: resistor, temperature_coefficient: 0.00393 1/K}"}).empty());
}

TEST_CASE("faults of class files") {
  CHECK(faults_of({"a: {model: resistor, resistence: 1 ohm}"}) ==
        Lines{"0.yaml:1:22 part class 'a' of model resistor has no key 'resistence' | resistance"});
  CHECK(faults_of({"a: {model: resistor, resistance: 1 V}"}).at(0).find("0.yaml:1:36 'V' measures a voltage") == 0);
  CHECK(faults_of({"a: {resistance: 1 ohm}"}) ==
        Lines{"0.yaml:1:1 part class 'a' does not name its model | model: MODEL"});
  CHECK(faults_of({"a: {model: resister}"}) == Lines{"0.yaml:1:12 there is no model 'resister' | resistor"});
  CHECK(faults_of({"a: {model: [resistor]}"}) ==
        Lines{"0.yaml:1:12 model must be the name of a model, not a list | model: MODEL"});
  CHECK(faults_of({"a: 3"}).at(0).find("0.yaml:1:4 part class 'a' must be a mapping, not '3'") == 0);
  CHECK(faults_of({"a:"}).at(0).find("0.yaml:1:1 part class 'a' must be a mapping, not nothing") == 0);
  CHECK(faults_of({"a: {model: resistor, note: [x]}"}) ==
        Lines{"0.yaml:1:28 note must be text, not a list | note: TEXT"});
  CHECK(faults_of({"My Part: {model: resistor}"}) == Lines{"0.yaml:1:1 'My Part' is not a name for a part class: use "
                                                           "lower-case letters, digits and - _ ., and begin with a "
                                                           "letter | my-part"});
  CHECK(faults_of({"a: [\n"}).size() == 1);
}

TEST_CASE("a class that is defined twice names both places") {
  const std::string one = "\na: {model: resistor, resistance: 1 ohm}\n";
  CHECK(faults_of({one, one}) ==
        Lines{"1.yaml:2:1 part class 'a' is defined a second time | keep one of the two | 0.yaml:2"});
  CHECK(faults_of({one + one}).size() == 1);
  const std::string known = PartLibrary::built_in().all().begin()->first;
  CHECK(faults_of({known + ": {model: resistor}"}) ==
        Lines{"0.yaml:1:1 part class '" + known + "' is already built in | give yours another name"});
}
