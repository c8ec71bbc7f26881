#include "sim/netlist/explain.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "models/catalogue.hpp"
#include "models/policy.hpp"
#include "sim/mechanisms/mechanisms.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/netlist/timed_fault.hpp"
#include "sim/text.hpp"
#include "tests/support/sample_fields.hpp"

using namespace overwinter;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::string joined(std::string text) {
  std::string result;
  for (const char c : text) {
    const char blank = c == '\n' ? ' ' : c;
    if (blank != ' ' || result.empty() || result.back() != ' ') result += blank;
  }
  return result;
}

}  // namespace

TEST_CASE("without a name, all models and part classes are listed") {
  const std::string text = explain("");
  for (const ModelTable* table : catalogue()) CHECK(has(joined(text), table->name + " " + table->purpose));
  for (const auto& [name, c] : PartLibrary::built_in().all())
    CHECK(has(joined(text), name + " " + c.table->name + ": "));
}

TEST_CASE("everything in a model's table is in its explanation") {
  for (const ModelTable* table : catalogue()) {
    CAPTURE(table->name);
    const std::string text = joined(explain(table->name));
    CHECK(has(text, table->purpose));
    for (const Pin& p : table->pins) CHECK(has(text, p.name + " " + p.meaning));
    for (const Field& f : table->fields) CHECK(has(text, f.key + " " + f.meaning));
    for (const Field& f : table->fields) CHECK((f.source.empty() || has(text, "[" + f.source + "]")));
    for (const Equation& e : table->equations) CHECK(has(text, "(" + e.number + ") " + e.text));
    for (const State& s : table->states) CHECK(has(text, s.name + " " + s.meaning));
    for (const Output& o : table->outputs) CHECK(has(text, o.name + " " + o.meaning));
    for (const Flow& f : table->flows) CHECK(has(text, ": " + f.meaning));
    for (const Event& e : table->events) CHECK(has(text, e.name + " " + e.meaning));
    for (const FaultForm* f : faults_of(*table)) CHECK(has(text, f->kind + " " + f->meaning));
    for (const FaultForm* f : faults_of(*table)) CHECK(has(joined(explain("faults")), f->kind + " " + f->meaning));
    for (const std::string& c : PartLibrary::built_in().names(table)) CHECK(has(text, c));
  }
}

TEST_CASE("parameters with form, range and default") {
  const std::string text = explain(sample_table());
  CHECK(has(text, "  voltage      supply\n               NUMBER V; above 0 V and at most 30 V; default 1 V\n"));
  CHECK(has(text, "NUMBER ohm; above 0 ohm; required\n"));
  CHECK(has(text, "NUMBER uA; at least 0 uA; may be left out\n"));
  CHECK(has(text, "WHOLE NUMBER; from 1 to 100; default 2\n"));
  CHECK(has(text, "  label        printed on it\n               TEXT; may be left out\n"));
  CHECK(has(joined(text),
            "charge from 0 % to 100 %; voltage above 0 V; " + name_of(Interpolation::linear) + " between the points"));
}

TEST_CASE("no odd numbers in ranges and defaults") {
  const std::string clock = joined(explain("clock"));
  CHECK(has(clock, "first_alarm from the start of the span to the first alarm NUMBER min; from 1 s to 366 d;"));
  for (const ModelTable* table : catalogue()) {
    CAPTURE(table->name);
    const std::string text = explain(*table);
    for (const char* odd : {"66667", "33333", "e-0", "e+0", "0000 mA", "0000 ms", "0000 uA"})
      CHECK_FALSE(has(text, odd));
  }
}

TEST_CASE("the columns of a list stand under it") {
  const std::string text = explain(sample_table());
  CHECK(has(joined(text), "stages one after the other [{name: TEXT, "));
  CHECK(has(text, "    name       what it is called\n               TEXT; required\n"));
  CHECK(has(text, "    duration   how long it lasts\n               NUMBER s; above 0 s and at most 1 h; required\n"));
  CHECK(has(text, "    current    NUMBER mA; at least 0 mA; may be left out\n"));
  CHECK(has(text, "    last       true or false; default false\n"));
  CHECK(has(text, "    repeats    WHOLE NUMBER; at least 1; default 1\n"));
}

TEST_CASE("pins say what they are to lines") {
  ModelTable t;
  t.name = "t";
  t.new_parameters = sample_table().new_parameters;
  t.pins = {{"a", "one end", PinRole::power}, {"b", "alarm", PinRole::open_drain}, {"c", "control", PinRole::gate}};
  const std::string text = explain(t);
  CHECK(has(text,
            "  a  one end\n  b  alarm\n     open drain: may drive a line by pulling it down\n  c  control\n"
            "     gate: listens to the voltage of a line\n"));
}

TEST_CASE("the sections policy and require") {
  CHECK(has(joined(explain("")), "policy How long the instrument sleeps"));
  const std::string policy = explain("policy");
  for (const Field& f : Policy::fields()) CHECK(has(joined(policy), f.key + " " + (f.meaning)));
  CHECK(has(joined(policy), " below "));
  const std::string require = explain("require");
  for (const RequirementKind& k : requirement_kinds()) CHECK(has(joined(require), k.name + " " + k.meaning));
  CHECK(has(require, "longest_gap: {at_most: NUMBER h}\n"));
  CHECK(has(require, "needs_human: {at_most: WHOLE NUMBER, sunny_days: WHOLE NUMBER}\n"));
  CHECK(has(joined(require), "sunny days after the day of the brown-out that it may take; default 3"));
  CHECK(has(require, "  longest_gap  at_most: 25 h\n"));
  CHECK(has(joined(require), "where the policy sleeps longer than a day, its longest interval and one hour"));
  CHECK(has(require, "  needs_human  at_most: 0\n"));
  const std::size_t always = require.find("what holds wherever the section does not name it");
  REQUIRE(always != std::string::npos);
  CHECK(require.find("  brownouts  at_most: 0\n") > always);
  CHECK(require.find("  damage     at_most: 0\n") > always);
}

TEST_CASE("a model's limits stand apart from its events, with what keeps a part within them") {
  const std::string controller = explain("controller");
  CHECK(has(controller,
            "\nlimits beyond which it is damaged; that it goes beyond is an event too\n  supply above range"));
  CHECK(has(joined(controller), "which can damage it kept by: a supply that stays below it"));
  CHECK_FALSE(has(controller.substr(0, controller.find("\nlimits beyond")), "supply above range"));
}

TEST_CASE("mechanisms: every id with what it is and what removes it") {
  const std::string text = joined(explain("mechanisms"));
  for (const Mechanism& m : mechanisms()) CHECK(has(text, m.id + " " + m.what + " removed by: " + m.removal));
}

TEST_CASE("a part class shows its values with the comments beside them") {
  Faults faults;
  PartLibrary library;
  library.add(Document::parse(
                  "own.yaml",
                  "bleeder:\n  model: resistor\n  note: to drain it\n  resistance: 10 kohm  # printed on it\n", faults),
              false, faults);
  CHECK(explain(*library.find("bleeder")) ==
        "bleeder\n"
        "  part class of model resistor: to drain it\n"
        "\n"
        "parameters of the class\n"
        "  resistance  10 kohm\n"
        "              resistance at 20 degC\n"
        "              [printed on it]\n"
        "\n"
        "parameters that the class leaves to the scenario or the model\n"
        "  temperature_coefficient  0 1/K\n"
        "                           relative change of resistance per kelvin; 0.00393 1/K for copper\n");
}

TEST_CASE("lines stay narrow") {
  for (const ModelTable* table : catalogue()) {
    const std::string text = explain(*table);
    for (std::size_t at = 0; at < text.size();) {
      const std::size_t end = text.find('\n', at);
      CHECK(characters(std::string_view(text).substr(at, end - at)) <= 100);
      at = end + 1;
    }
  }
}

TEST_CASE("unknown names") {
  const auto message = [](const std::string& name) -> std::string {
    try {
      explain(name);
    } catch (const InputError& error) {
      return error.what();
    }
    return {};
  };
  CHECK(message("resister") == "there is no model or part class 'resister'\n  try: resistor");
  CHECK(message("flux-capacitor") ==
        "there is no model or part class 'flux-capacitor'\n  try: `overwinter explain` without a name lists them");
}
