#include "sim/netlist/rows_binder.hpp"

#include <doctest/doctest.h>

#include "tests/support/bound_sample.hpp"

using namespace overwinter;
using test::BoundSample;

TEST_CASE("rows are bound in the order of the file") {
  const BoundSample b(
      "stages:\n  - {name: boot, duration: 2 s, threshold: 3 V}\n"
      "  - {name: send, duration: 1 min, threshold: 3 V, current: 30 mA, last: true, repeats: 2}\n");
  CHECK(b.faults.empty());
  CHECK(b.good);
  REQUIRE(b.parameters.stages.size() == 2);
  CHECK(b.parameters.stages[0].name == "boot");
  CHECK(b.parameters.stages[0].repeats == 1);
  CHECK_FALSE(b.parameters.stages[0].current);
  CHECK(b.parameters.stages[1].duration.si() == 60);
  CHECK(b.parameters.stages[1].current->si() == 0.03);
  CHECK(b.parameters.stages[1].last);
}

TEST_CASE("a later layer replaces the whole list, and null leaves the default") {
  const auto bound = [](const std::string& second) {
    Faults faults;
    const auto part_class = Document::parse("c.yaml",
                                            "stages: [{name: a, duration: 1 s, threshold: 1 V, current: 5 mA}, "
                                            "{name: b, duration: 1 s, threshold: 1 V}]\n",
                                            faults);
    const auto part = Document::parse("a.yaml", second, faults);
    WrittenValues written;
    for (const auto& d : {part_class, part})
      collect(sample_table().fields, {}, "sample", *d, d->root(), written, faults);
    SampleParameters p;
    p.stages.resize(3);
    CHECK(bind_fields(sample_table().fields, written, &p, faults));
    CHECK(faults.empty());
    return p.stages;
  };
  CHECK(bound("cells: 1\n").size() == 2);
  const std::vector<SampleStage> replaced = bound("stages: [{name: c, duration: 1 s, threshold: 1 V}]\n");
  REQUIRE(replaced.size() == 1);
  CHECK_FALSE(replaced[0].current);
  CHECK(bound("stages: ~\n").size() == 3);
}

TEST_CASE("faults of a row") {
  const auto second = [](const std::string& row) {
    return BoundSample("stages:\n  - {name: a, duration: 1 s, threshold: 3 V}\n  - " + row + "\n").fault();
  };
  CHECK(second("{name: b, durration: 1 s, threshold: 3 V}") ==
        "3:15 row 2 of stages has no key 'durration' | duration");
  CHECK(second("{name: b, threshold: 3 V}") ==
        "3:5 row 2 of stages lacks duration | duration: NUMBER s (how long it lasts)");
  CHECK(second("{name: ~, duration: 1 s}") ==
        "3:5 row 2 of stages lacks name, threshold | name: TEXT (what it is called); threshold: NUMBER V");
  CHECK(second("{name: b, duration: 1 V, threshold: 3 V}").find("3:27 'V' measures a voltage") == 0);
  CHECK(second("{name: b, duration: 2 h, threshold: 3 V}") ==
        "3:25 '2 h' is out of range: duration must be above 0 s and at most 1 h | duration: NUMBER s (how long it "
        "lasts)");
  CHECK(second("{name: [b], duration: 1 s, threshold: 3 V}") == "3:12 name needs one value, not a list | name: TEXT");
  CHECK(second("boot").find("3:5 row 2 of stages must be a mapping, not 'boot' | stages: [{name: TEXT, ") == 0);
  CHECK(second("").find("3:3 row 2 of stages must be a mapping, not nothing") == 0);
}

TEST_CASE("faults of all rows are found at once, and what is refused is not complained about again") {
  CHECK(BoundSample("stages: [{name: a}, {duration: -1 s, name: b, threshold: 1 V}, 3]\n").faults.size() == 3);
  CHECK(BoundSample("stages: [{name: a, duration: &x 1 s, threshold: 1 V}, *x]\n").faults.size() == 2);
}

TEST_CASE("rows of the wrong shape") {
  CHECK(BoundSample("stages: {name: a}").fault().find("1:9 stages needs a list of rows, not a mapping | stages: [{") ==
        0);
  CHECK(BoundSample("stages: 3").fault().find("1:9 stages needs a list of rows, not '3'") == 0);
  CHECK(BoundSample("stages: []").fault().find("1:9 stages is a list without rows | stages: [{") == 0);
}
