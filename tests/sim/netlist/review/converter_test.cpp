#include <doctest/doctest.h>

#include "sim/netlist/review/themes.hpp"
#include "tests/sim/netlist/review/support/reviewed.hpp"

using namespace overwinter;

namespace {

using test::All;

All findings(const test::Edits& edits) { return test::sentences(review_converters, edits); }

}  // namespace

TEST_CASE("converters as they should be") { CHECK(findings({}).empty()); }

TEST_CASE("a protector released by its own trip") {
  CHECK(findings({{"protector-2a5-voltage}", "protector-2a5-voltage, overdischarge_release: 2.9 V}"}}) ==
        All{"guard: its release is 0.1 V above its trip, less than the 0.17 V by which the voltage rises when it cuts "
            "the load of send (cell 0.1 ohm + way 0.15 ohm, x 0.67 A): it starts and cuts out in turn; try: "
            "overdischarge_release above 2.97 V (3.11 V for a cell at 0 degC), or less resistance in lead"});
  CHECK(findings({{"protector-2a5-voltage}", "protector-2a5-voltage, overdischarge_release: 2.98 V}"}}).empty());
  // Released by a charger alone, it does not feed again by itself.
  CHECK(findings({{"protector-2a5-voltage}", "protector-2a5-charge-release, overdischarge_release: 2.9 V}"}}).empty());
}

TEST_CASE("a converter released by its own lockout, where no protector cuts before") {
  CHECK(
      findings({{"boost-5v-500ma-disconnect}", "boost-5v-500ma-disconnect, lockout: 3.2 V}"}}) ==
      All{"boost: its lockout hysteresis of 0.15 V is less than the 0.19 V by which the voltage rises when it cuts the "
          "load of send (cell 55 mohm + way 0.3 ohm, x 0.55 A): it starts and cuts out in turn; try: "
          "lockout_hysteresis above 0.2 V (0.27 V for a cell at 0 degC), or less resistance in lead, guard, monitor"});
  CHECK(findings(
            {{"boost-5v-500ma-disconnect}", "boost-5v-500ma-disconnect, lockout: 3.2 V, lockout_hysteresis: 200 mV}"}})
            .empty());
}

TEST_CASE("a converter released by the lockout of its own start") {
  // 470 uF x 25 V^2 / 2 over 3 ms are 1.96 W, at 2.6 V and 0.85 0.9 A.
  const std::string large = "boost-5v-500ma-disconnect, output_capacitance: 470 uF, lockout: 2.6 V";
  CHECK(
      findings({{"boost-5v-500ma-disconnect}", large + "}"}}).front().find("when it cuts the load of its own start") !=
      std::string::npos);
  CHECK(findings({{"boost-5v-500ma-disconnect}", large + ", soft_start: 30 ms}"}}).empty());
}

TEST_CASE("a converter that costs more always on than its wakes") {
  const test::Edits small = {{"duration: 80 s", "duration: 0.1 s"}, {"duration: 5 s", "duration: 1 s"}};
  // 15 uA x 3.74 V and 12.5 uW of divider over 0.58; 22 uF x 25 V^2 / 2 over 0.91.
  CHECK(
      findings(small) ==
      All{"boost: always on, it takes 78 uW for itself, 6.7 J in 24 h, beside 0.36 J for a wake; a start costs 0.3 mJ, "
          "as much as 3.87 s of being on; try: a switch between the cell and boost in place of the one behind it, "
          "pulled up to the cell's net"});
  test::Edits with_lamp = small;  // something that needs the rail for ever
  with_lamp.insert(with_lamp.end(),
                   {{"  radio: {model", "  lamp: {model: load, kind: current, current: 1 mA}\n  radio: {model"},
                    {"rail: [", "rail: [lamp.plus, "},
                    {"gnd: [", "gnd: [lamp.minus, "}});
  CHECK(findings(with_lamp).empty());
}
