#include "models/catalogue.hpp"

#include <doctest/doctest.h>

#include <set>

using namespace overwinter;

TEST_CASE("catalogue: sorted by name, each name once, each found") {
  std::string before;
  for (const ModelTable* table : catalogue()) {
    REQUIRE(table != nullptr);
    CHECK(before < table->name);
    before = table->name;
    CHECK(find_model(table->name) == table);
  }
  CHECK(find_model("nonsense") == nullptr);
  CHECK(find_model("") == nullptr);
}

TEST_CASE("catalogue: every kind of part is in it") {
  for (const char* name : {"cell", "linear-charger", "load", "panel", "resistor", "schottky"}) {
    CHECK_MESSAGE(find_model(name) != nullptr, name);
  }
}

TEST_CASE("catalogue: names inside a table are unique") {
  const auto unique = [](const auto& list, auto name) {
    std::set<std::string> seen;
    for (const auto& item : list) CHECK_MESSAGE(seen.insert(name(item)).second, name(item));
  };
  const auto name = [](const auto& item) { return item.name; };
  for (const ModelTable* t : catalogue()) {
    CAPTURE(t->name);
    unique(t->fields, [](const Field& f) { return f.key; });
    unique(t->pins, name);
    unique(t->states, name);
    unique(t->unknowns, name);
    unique(t->outputs, name);
    unique(t->flows, name);
    unique(t->events, name);
    unique(t->line_inputs, name);
    unique(t->line_outputs, name);
    unique(t->equations, [](const Equation& e) { return e.number; });
  }
}
