#include "sim/netlist/binder.hpp"

#include <doctest/doctest.h>

#include "tests/support/bound_sample.hpp"

using namespace overwinter;
using test::BoundSample;

TEST_CASE("every kind of field is set") {
  const BoundSample b(
      "voltage: 3.3 V\nresistance: 2 kohm\nshare: 35 %\nlimit: -20 degC\nhysteresis: 5 degC\ntilt: 90 deg\nleakage: 3 "
      "uA\n"
      "cells: 6\nwired: true\nlaw: square\nshape: {charge: 0 100 %, voltage: 3 4 V}\n"
      "efficiency: {voltage: 2 3 V, load: 1 10 mA, share: [80 85 %, 82 88 %]}\n"
      "label: '  6 V: sun side '\nstages: [{name: a, duration: 1 s, threshold: 1 V}]\n");
  CHECK(b.faults.empty());
  CHECK(b.good);
  const SampleParameters& p = b.parameters;
  CHECK(p.voltage.si() == 3.3);
  CHECK(p.resistance.si() == 2000);
  CHECK(p.share == 0.35);
  CHECK(p.limit.si() == 253.15);
  CHECK(p.hysteresis.si() == 5);
  CHECK(p.tilt.si() == pi / 2);
  CHECK(p.leakage->si() == 3e-6);
  CHECK(p.cells == 6);
  CHECK(p.wired);
  CHECK(p.law == SampleLaw::square);
  CHECK(p.shape(0.5) == 3.5);
  CHECK(p.efficiency(3, 0.01) == 0.88);
  CHECK(p.label == "6 V: sun side");
  CHECK(p.stages.size() == 1);
}

TEST_CASE("a text is one line with something in it") {
  CHECK(BoundSample("label: 12\n").parameters.label == "12");
  CHECK(BoundSample("label: ''\n").fault() == "1:8 label is empty | label: TEXT");
  CHECK(BoundSample("label: '  '\n").fault() == "1:8 label is empty | label: TEXT");
  CHECK(BoundSample("label: |\n  two\n  lines\n").fault() ==
        "1:8 label must be one line | label: TEXT (printed on it)");
  CHECK(BoundSample("label: |\n  one\n").parameters.label == "one");
  CHECK(BoundSample("label: [a]\n").fault() == "1:8 label needs one value, not a list | label: TEXT");
}

TEST_CASE("null and what is not written leave the default") {
  const BoundSample b("voltage: ~\ncells:\nresistance: 1 ohm\n");
  CHECK(b.faults.empty());
  CHECK(b.parameters.voltage.si() == 1);
  CHECK(b.parameters.cells == 2);
  CHECK_FALSE(b.parameters.leakage);
}

TEST_CASE("required fields") {
  const auto missing = [](const std::string& text) {
    return missing_fields(sample_table().fields, BoundSample(text).written);
  };
  CHECK(missing("resistance: 1 ohm").empty());
  REQUIRE(missing("voltage: 1 V").size() == 1);
  CHECK(how_to_write(missing("resistance: ~")) == "resistance: NUMBER ohm (on the front page)");
}

TEST_CASE("a later layer replaces the earlier one as a whole") {
  Faults faults;
  const auto part_class =
      Document::parse("c.yaml", "voltage: 5 V\ncells: 3\nshape: {charge: 0 50 100 %, voltage: 3 3.5 4 V}\n", faults);
  const auto part = Document::parse("a.yaml", "cells: ~\nshape: {charge: 0 100 %, voltage: 1 2 V}\n", faults);
  WrittenValues written;
  for (const auto& d : {part_class, part}) collect(sample_table().fields, {}, "sample", *d, d->root(), written, faults);
  SampleParameters p;
  CHECK(bind_fields(sample_table().fields, written, &p, faults));
  CHECK(faults.empty());
  CHECK(p.voltage.si() == 5);
  CHECK(p.cells == 2);
  CHECK(p.shape.x().size() == 2);
  CHECK(p.shape.y().back() == 2);
}

TEST_CASE("unknown keys") {
  CHECK(BoundSample("model: sample\n").faults.empty());
  CHECK(BoundSample("colour: 3\n").fault().find("1:1 sample has no key 'colour' | one of model, voltage,") == 0);
  CHECK(BoundSample("volts: {}\n").faults.size() == 1);
  CHECK(BoundSample("x: 1\n{a:1}: 2\n").faults.size() >= 1);
  CHECK(BoundSample("a: {b: c}\ntilt:3: 4\n").faults.at(1) == "2:1 sample has no key 'tilt:3' | tilt");
  SUBCASE("the value of a misspelled key is checked too") {
    const BoundSample b("resistence: 3 V\n");
    CHECK(b.faults ==
          std::vector<std::string>{"1:1 sample has no key 'resistence' | resistance",
                                   "1:15 'V' measures a voltage; resistance is given in ohm | a number in ohm"});
  }
}

TEST_CASE("ranges are said in the field's own unit") {
  CHECK(BoundSample("voltage: -1 V").fault() ==
        "1:10 '-1 V' is out of range: voltage must be above 0 V and at most 30 V | 1 V");
  CHECK(BoundSample("limit: 250 K").fault() ==
        "1:8 '250 K' is out of range: limit must be at least -20 degC | limit: NUMBER degC");
  CHECK(BoundSample("share: 20").fault() == "1:8 '20' is out of range: share must be from 0 % to 35 % | 20 %");
  CHECK(BoundSample("share: 80").fault() ==
        "1:8 '80' is out of range: share must be from 0 % to 35 % | share: NUMBER %");
  CHECK(BoundSample("cells: 0").fault() ==
        "1:8 '0' is out of range: cells must be from 1 to 100 | cells: WHOLE NUMBER");
}

TEST_CASE("counts, flags and choices") {
  CHECK(BoundSample("cells: 3 V").fault() == "1:10 cells is a plain count, without a unit | 3");
  CHECK(BoundSample("cells: 2.5").fault() == "1:8 cells must be a whole number, not '2.5' | cells: WHOLE NUMBER");
  CHECK(BoundSample("cells: \"3\"").fault() == "1:8 cells is a count and needs no quotes | 3");
  CHECK(BoundSample("wired: yes").fault() == "1:8 wired must be true or false, not 'yes' | true");
  CHECK(BoundSample("wired: Off").fault() == "1:8 wired must be true or false, not 'Off' | false");
  CHECK(BoundSample("wired: 1").fault() == "1:8 wired must be true or false, not '1' | true");
  CHECK(BoundSample("wired: 'true'").fault() == "1:8 wired must be true or false without quotes | true");
  CHECK(BoundSample("law: sqare").fault() == "1:6 law must be linear or square, not 'sqare' | square");
}

TEST_CASE("a value of the wrong shape") {
  CHECK(BoundSample("voltage: [1 V]").fault() == "1:10 voltage needs one value, not a list | voltage: NUMBER V");
  CHECK(BoundSample("voltage: {a: 1}").fault() == "1:10 voltage needs one value, not a mapping | voltage: NUMBER V");
}

TEST_CASE("all faults are reported, and what is refused already is not complained about again") {
  CHECK(BoundSample("voltage: -1 V\ncells: x\ntilt: 100 deg\n").faults.size() == 3);
  const BoundSample b("resistance: &r 1 ohm\nvoltage: *r\n");
  CHECK(b.faults.size() == 2);
  CHECK_FALSE(b.good);
}
