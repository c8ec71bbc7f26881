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
