#include "sim/netlist/timed_fault.hpp"

#include <doctest/doctest.h>

#include <set>

#include "models/catalogue.hpp"
#include "sim/netlist/field_text.hpp"

using namespace overwinter;

TEST_CASE("every part can be opened and shorted, and what its own model says") {
  for (const ModelTable* table : catalogue()) {
    CAPTURE(table->name);
    const auto forms = faults_of(*table);
    CHECK(find_fault(forms, "open"));
    CHECK(find_fault(forms, "short"));
    CHECK(forms.size() == 2 + table->faults.size());
    std::set<std::string> kinds;
    for (const FaultForm* form : forms) {
      CHECK(kinds.insert(form->kind).second);
      CHECK(!form->meaning.empty());
      for (const Field& field : form->fields) CHECK(!field.meaning.empty());
    }
    CHECK(!find_fault(forms, "cold-snap"));
  }
}

TEST_CASE("a kind takes the same values whatever has it: it is read before its bearer is known") {
  const auto keys = [](const FaultForm& form) {
    std::string text;
    for (const Field& field : form.fields) text += field.key + ": " + written_form(field) + ", ";
    return text;
  };
  for (const ModelTable* table : catalogue()) {
    for (const FaultForm& form : table->faults) CHECK(keys(form) == keys(*find_fault(all_faults(), form.kind)));
  }
}

TEST_CASE("a fault as text") {
  TimedFault f;
  f.part = "panel-south";
  f.kind = "soiled";
  f.values.by = 0.6;
  CHECK(text_of(f) == "panel-south soiled by 60 %");
  f.part = "cell";
  f.kind = "aged";
  f.values.by = 0;
  f.values.times = 2;
  CHECK(details_of(f) == "times 2");
  f.part.clear();
  f.kind = "cold-snap";
  f.values.colder = Temperature{15.0};
  CHECK(text_of(f) == "cold-snap by 15 K");
  f.part = "diode";
  f.kind = "open";
  CHECK(text_of(f) == "diode open");
  f.part = "logger";
  f.kind = "hung";
  CHECK(text_of(f) == "logger hung");
  f.values.phase = "send";
  CHECK(text_of(f) == "logger hung phase send");
}
