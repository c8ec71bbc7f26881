#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_readings, edits); }

}  // namespace

TEST_CASE("a policy that its monitor can tell apart") {
  CHECK(findings({}).empty());
  CHECK(findings({{"hysteresis: 60 mV", "hysteresis: 12 mV"}}).empty());
  CHECK(test::sentences(review_readings, {}, "peat-bog.yaml").empty());  // one interval, whatever is read
}

TEST_CASE("hysteresis below what a reading varies by") {
  CHECK(
      findings({{"hysteresis: 60 mV", "hysteresis: 10 mV"}}) ==
      All{"the policy's hysteresis of 0.01 V is less than the 12 mV by which monitor's reading varies at rest (step 4 "
          "mV + 4 x noise 2 mV): near a row's end the interval changes from wake to wake; try: hysteresis above 12 "
          "mV"});
}

TEST_CASE("an offset of more than a row") {
  CHECK(
      findings({{"monitor-12bit-100mohm}", "monitor-12bit-100mohm, voltage_offset: -200 mV}"}}) ==
      All{"monitor's offset of -0.2 V is more than the 0.15 V between the policy's rows below 3.65 V and below 3.8 V: "
          "it goes by the wrong row; try: rows further apart, or a monitor of less offset"});
}

TEST_CASE("a monitor that is to see the current of sleep") {
  const std::pair<std::string, std::string> on[] = {{"monitor.supply, ", ""}, {"pack+: [", "pack+: [monitor.supply, "}};
  // 40 uV over 0.1 ohm; behind it the boost's 15 uA and its divider.
  CHECK(findings({on[0], on[1]}) ==
        All{"monitor's shunt offset of 40 uV over 0.1 ohm is 0.4 mA, more than the 21 uA that flow through it in sleep "
            "(boost 15 uA, boost's divider 5.8 uA): it shows its own offset; try: a shunt of at least 1.9 ohm, or a "
            "monitor of less offset"});
  CHECK(findings({on[0], on[1], {"monitor-12bit-100mohm}", "monitor-12bit-100mohm, shunt: 2 ohm}"}}).empty());
  CHECK(findings({on[0], on[1], {"monitor-12bit-100mohm}", "monitor-12bit-100mohm, shunt_offset: -2 uV}"}}).empty());
  CHECK(findings({{"monitor-12bit-100mohm}", "monitor-12bit-100mohm, shunt_offset: 1 mV}"}}).empty());  // off in sleep
}
