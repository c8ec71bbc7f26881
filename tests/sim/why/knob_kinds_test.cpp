#include "sim/why/knob_kinds.hpp"

#include <doctest/doctest.h>

#include <set>
#include <stdexcept>

#include "sim/netlist/explain.hpp"

using namespace overwinter;

TEST_CASE("each kind of change has a name of its own, a tolerance and who can make it") {
  std::set<std::string> names;
  for (const KnobKind& k : knob_kinds()) {
    CAPTURE(k.name);
    CHECK(names.insert(k.name).second);
    CHECK(k.tolerance > 0);
    CHECK(k.tolerance < 0.5);
    CHECK(&knob_kind(k.name) == &k);
    CHECK_FALSE(name_of(k.remedy).empty());
  }
  CHECK_THROWS_AS(knob_kind("wish"), std::logic_error);
  CHECK(knob_kind("threshold").remedy == Remedy::datasheet);
  CHECK(remedies() == std::vector<Remedy>{Remedy::built, Remedy::firmware, Remedy::datasheet});
}

TEST_CASE("explain cures has them all") {
  const std::string text = explain("cures");
  for (const KnobKind& k : knob_kinds()) {
    CAPTURE(k.name);
    CHECK(text.find("  " + k.name + " ") != std::string::npos);
    CHECK(text.find(k.of_what + " (" + k.source + ")") != std::string::npos);
  }
}
