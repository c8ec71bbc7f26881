#include "sim/netlist/review/review.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

TEST_CASE("the review goes by theme, and its findings are made for scripts too") {
  const std::vector<DesignFinding> found =
      test::reviewed(review, {{"charger-linear-100ma}", "charger-linear-100ma, charge_voltage: 4.21 V}"},
                              {"  radio-on: {from: logger.out_2, to: radio.enable}\n", ""},
                              {"every: 24 h", "every: 1 h"}});
  std::vector<std::string> rules;
  for (const DesignFinding& f : found) rules.push_back(f.rule);
  CHECK(rules == std::vector<std::string>{"charge-voltage-above-cell", "output-leads-nowhere", "policy-upside-down"});
  CHECK(nlohmann::ordered_json(found.front()).dump() ==
        R"({"rule":"charge-voltage-above-cell","parts":["charger","cell"],"text":"charger charges to 4.21 V, but cell )"
        R"(bears no more than 4.2 V: overcharging a lithium cell can start a fire; follow the cell's datasheet",)"
        R"("try":"a charger of at most 4.2 V"})");
}
