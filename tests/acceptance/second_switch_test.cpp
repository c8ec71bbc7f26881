// A radio with its own capacitor behind a second P-channel switch, which a stage at the controller's output turns on.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "sim/replay/replay.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/trace_rows.hpp"

using namespace overwinter;
using test::number;

// Expected voltages: the divider of pull-up and series resistor (Ohm's law); tolerance 0.1 %, for the gate's leakage.
TEST_CASE("a radio behind a switch of its own is on while it sends, and off otherwise") {
  const std::string text = test::shipped(
      "peat-bog-better.yaml",
      {{"to: 2025-01-20", "to: 2024-10-15"},
       {"  radio: {model",
        "  radio-switch: {part: p-switch-logic-30mohm}\n  stage: {part: n-stage-5ohm}\n"
        "  radio-store: {part: ceramic-100uf, capacitance: 10 uF}\n  radio: {model"},
       {"probe.plus, radio.plus]",
        "probe.plus, radio-switch.source]\n  radio+: [radio-switch.drain, radio-store.plus, radio.plus]"},
       {"gnd: [", "gnd: [stage.ground, radio-store.minus, "},
       {"radio-on: {from: logger.out_2, to: radio.enable}",
        "radio-on: {from: logger.out_2, to: stage.input}\n  radio-gate: {from: stage.drain, to: radio-switch.gate, "
        "pull_up: {net: instrument+, resistance: 100 kohm, series: 10 kohm}}"}});
  for (const Stepping stepping : {Stepping::phases, Stepping::reference}) {
    const test::Scratch scratch;
    ReplayOptions options;
    options.out = scratch.path("run");
    options.stepping = stepping;
    options.every = 30 * ticks_per_second;
    const auto summary = replay(read_scenario(scratch.write("radio.yaml", text)), options).summary;
    const double wakes = summary.at("service").at("wakes_completed");
    CHECK(wakes == 11);
    CHECK(summary.at("service").at("due") == wakes);
    CHECK(std::abs(summary.at("energy").at("residual_independent").get<double>()) < 1e-8);
    // 80 s of 1.5 W a wake; what the store gives after the end of the wake comes on top, at most C U^2/2.
    const double radio = summary.at("energy").at("delivered_by_part_J").at("radio");
    CHECK(radio > wakes * 80 * 1.5 * 0.999);
    CHECK(radio < wakes * (80 * 1.5 + 0.5 * 110e-6 * 25) * 1.001);
    int sending = 0, measuring = 0;
    for (const test::TraceRow& row : test::trace_rows(scratch.read("run/trace.csv"))) {
      const double source = number(row, "net.instrument+ [V]"), gate = number(row, "net.radio-gate [V]");
      if (row.at("stage.pulling") == "yes") {
        ++sending;
        CHECK(gate == doctest::Approx(source * 10.005 / 110.005).epsilon(1e-3));
        CHECK(number(row, "net.radio-gate drivers [V]") == doctest::Approx(source * 0.005 / 110.005).epsilon(1e-3));
        CHECK(number(row, "net.radio+ [V]") > source - 0.03);
      } else if (row.at("logger.mode") == "running" || row.at("logger.mode") == "booting") {
        ++measuring;
        CHECK(gate > source - 0.02);
        CHECK(number(row, "net.radio+ [V]") < 1e-3);
      }
    }
    CHECK(sending > 10);
    CHECK(measuring > 1);
  }
}
