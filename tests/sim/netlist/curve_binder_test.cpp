#include "sim/netlist/curve_binder.hpp"

#include <doctest/doctest.h>

#include "tests/support/bound_sample.hpp"

using namespace overwinter;
using test::BoundSample;

TEST_CASE("curves in block and flow style, in any order of axes and any fitting unit") {
  for (const char* text :
       {"shape: {charge: 0 50 100 %, voltage: 3 3.5 4.2 V}", "shape: {voltage: 3000 3500 4200 mV, charge: 0 0.5 1}",
        "shape:\n  charge: 0 50 100 %\n  voltage: 3 3.5 4.2 V"}) {
    const BoundSample b(text);
    CHECK(b.faults.empty());
    CHECK(b.parameters.shape.x() == std::vector<double>{0, 0.5, 1});
    CHECK(b.parameters.shape.y() == std::vector<double>{3, 3.5, 4.2});
  }
}

TEST_CASE("faults of curves") {
  const std::string form = "shape: {charge: NUMBERS %, voltage: NUMBERS V}";
  CHECK(BoundSample("shape: 3 V").fault() == "1:8 shape is a curve and needs its axes, not '3 V' | " + form);
  CHECK(BoundSample("shape: {charge: 0 1 %}").fault() == "1:1 shape lacks its axis voltage | " + form);
  CHECK(BoundSample("shape: {charge: 0 1 %, voltag: 0 1 V}").fault() == "1:24 shape has no axis 'voltag' | voltage");
  CHECK(BoundSample("shape: {charge: 0 1 %, voltage: 3 4 V, z: 1}").fault() == "1:40 shape has no axis 'z' | " + form);
  CHECK(BoundSample("shape: {charge: 0 1 %, voltage: [3 V, 4 V]}").fault() ==
        "1:33 voltage is one text of numbers with one unit behind them, not a list | voltage: 3 4 V");
  CHECK(BoundSample("shape: {charge: 0 1 %, voltage: 3 4}").fault() ==
        "1:33 no unit after 3 4; voltage is given in V | 3 4 V");
  CHECK(BoundSample("shape: {charge: 0 20 10 %, voltage: 3 4 5 V}").fault() ==
        "1:22 charge must rise from number to number, but 10 follows 20 | sort the points by charge");
  CHECK(BoundSample("shape: {charge: 0 0 %, voltage: 3 4 V}").fault() ==
        "1:19 charge must rise from number to number, but 0 follows 0 | sort the points by charge");
  CHECK(BoundSample("shape: {charge: 0 120 %, voltage: 3 4 V}").fault() ==
        "1:19 '120' is out of range: charge must be from 0 % to 100 % | charge: NUMBERS %");
  CHECK(BoundSample("shape: {charge: 0 1 %, voltage: 0 -4 V}").faults ==
        std::vector<std::string>{"1:33 '0' is out of range: voltage must be above 0 V | voltage: NUMBERS V",
                                 "1:35 '-4' is out of range: voltage must be above 0 V | voltage: NUMBERS V"});
  CHECK(BoundSample("shape: {charge: 0 1 %, voltage: 3 V}").fault() ==
        "1:33 voltage has 1 number, charge has 2 | give both the same number of points");
  CHECK(BoundSample("shape: {charge: 0 .nan %, voltage: 3 V}").fault() ==
        "1:19 charge must be a finite number, not '.nan' | charge: NUMBERS %");
}

TEST_CASE("both rows of a curve are checked") {
  CHECK(BoundSample("shape: {charge: 0 1 V, voltage: 3 4 %}").faults.size() == 2);
}

TEST_CASE("maps") {
  const BoundSample b(
      "efficiency:\n  voltage: 2 3 V\n  load: 1 10 100 mA\n  share:\n    - 80 85 90 %\n    - 82 86 91 %\n");
  CHECK(b.faults.empty());
  CHECK(b.parameters.efficiency.x() == std::vector<double>{2, 3});
  CHECK(b.parameters.efficiency.y() == std::vector<double>{0.001, 0.01, 0.1});
  CHECK(b.parameters.efficiency.z()[1] == std::vector<double>{0.82, 0.86, 0.91});
}

TEST_CASE("faults of maps") {
  const std::string axes = "efficiency: {voltage: 2 3 V, load: 1 10 mA, share: ";
  CHECK(BoundSample(axes + "80 %}").fault().find("1:52 share needs a list with one row for each voltage, not '80 %'") ==
        0);
  CHECK(BoundSample(axes + "[80 85 %]}").fault() ==
        "1:52 share has 1 row, voltage has 2 numbers | give one row for each voltage");
  CHECK(BoundSample(axes + "[80 85 %, 80 %]}").fault() ==
        "1:62 this row has 1 number, load has 2 | give each row one number for each load");
  CHECK(BoundSample(axes + "[80 85 %, 80 850 %]}").fault() ==
        "1:65 '850' is out of range: share must be at most 100 % | share: NUMBERS %");
  CHECK(BoundSample("efficiency: {voltage: 3 2 V, load: 10 1 mA, share: [80 V, x]}").faults.size() == 4);
}
