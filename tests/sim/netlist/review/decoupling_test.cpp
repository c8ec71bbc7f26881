#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) {
  return test::sentences(review_decoupling, edits, "findings/decoupling-missing-not.yaml");
}

const std::string asks =
    ": datasheets of controllers ask for 100 nF beside each supply pin (common practice), without which its own "
    "switching pulls the supply down; try: under parts decoupling";

}  // namespace

TEST_CASE("a controller with its capacitor") {
  CHECK(findings({}).empty());
  // One of several, and two that make it up.
  CHECK(findings({{"{part: ceramic-100nf}", "{part: electrolytic-470uf}"}}).empty());
  CHECK(findings({{"{part: ceramic-100nf}", "{part: ceramic-100nf, capacitance: 0.1 uF}"}}).empty());
}

TEST_CASE("a controller without a capacitor is told the lines that are missing") {
  CHECK(findings(
            {{"  decoupling: {part: ceramic-100nf}\n", ""}, {", decoupling.plus", ""}, {", decoupling.minus", ""}}) ==
        All{"logger has no capacitor on its supply, net instrument+" + asks +
            ": {part: ceramic-100nf}, and decoupling.plus in net instrument+, decoupling.minus in net gnd"});
}

TEST_CASE("a capacitor that is too small, or elsewhere") {
  CHECK(findings({{"{part: ceramic-100nf}", "{part: ceramic-100nf, capacitance: 47 nF}"}}) ==
        All{"logger has only 0.047 uF (decoupling) on its supply, net instrument+" + asks +
            "-2: {part: ceramic-100nf}, and decoupling-2.plus in net instrument+, decoupling-2.minus in net gnd"});
  // On the other side of the switch.
  CHECK(findings({{", decoupling.plus", ""}, {"rail: [", "rail: [decoupling.plus, "}}).size() == 1);
}

TEST_CASE("short wires and shunts leave a capacitor beside the pin, longer ones do not") {
  const auto through = [](const std::string& part) {
    return findings({{"  logger:\n", "  between: {" + part + "}\n  logger:\n"},
                     {"[switch.drain, logger.supply, ", "[switch.drain, between.a, "},
                     {"  rail: [", "  own+: [between.b, logger.supply]\n  rail: ["}})
        .size();
  };
  CHECK(through("model: resistor, resistance: 0.2 ohm") == 0);
  CHECK(through("model: resistor, resistance: 10 ohm") == 1);
}

TEST_CASE("a converter's own output capacitor counts where no switch lies between") {
  CHECK(findings({{"logger.supply, decoupling.plus]", "decoupling.plus]"}, {"rail: [", "rail: [logger.supply, "}})
            .empty());
}
