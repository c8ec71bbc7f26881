#include "sim/netlist/port_reference.hpp"

#include <doctest/doctest.h>

#include "tests/support/wired.hpp"

using namespace overwinter;

namespace {

struct Read {
  explicit Read(const std::string& text) {
    parts_document = Document::parse("a.yaml", "alpha: 1\nbeta: 2\n", faults);
    parts = {{"alpha", "", &test::two_pins(), nullptr, &parts_document->root().entries[0].key},
             {"beta", "", nullptr, nullptr, &parts_document->root().entries[1].key}};
    document = Document::parse("a.yaml", "x: " + text + "\n", faults);
    const Wirable wirable{parts, true};
    reference = ReferenceReader(*document, wirable, "pin", faults).read(document->root().entries[0].value);
  }
  Faults faults;
  std::shared_ptr<const Document> parts_document, document;
  std::vector<ReadPart> parts;
  Reference reference;
};

}  // namespace

TEST_CASE("a reference is a part and what stands behind the first point") {
  const Read r("beta.a.b");
  CHECK(r.faults.empty());
  CHECK(r.reference.part == 1);
  CHECK(r.reference.port == "a.b");
}

TEST_CASE("a part that is not there may be meant to be another") {
  const Read r("alpa.a");
  CHECK(r.faults.all().at(0).suggestion == "alpha.a");
  CHECK(r.reference.meant == "alpha");
  CHECK_FALSE(r.reference.part);
}

TEST_CASE("what an unresolved reference excuses") {
  Excuses excuses;
  CHECK_FALSE(excuses.covers("alpha", "a"));
  SUBCASE("the part that is meant") {
    excuses.unresolved(Read("alpa.a").reference);
    CHECK(excuses.covers("alpha", "b"));
    CHECK_FALSE(excuses.covers("beta", "a"));
  }
  SUBCASE("a pin of that name anywhere, when no part is near") {
    excuses.unresolved(Read("something-else.a").reference);
    CHECK(excuses.covers("beta", "a"));
    CHECK_FALSE(excuses.covers("alpha", "b"));
  }
  SUBCASE("everything, when nothing can be made of it") {
    excuses.unresolved(Read("[a]").reference);
    CHECK(excuses.cover_all());
  }
}
