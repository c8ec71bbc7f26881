// What people read when a value given with --set, or a choice of `why`, is wrong, to the letter.
#include <doctest/doctest.h>

#include <string>

#include "tests/support/program.hpp"

using namespace overwinter;

namespace {

const std::string peat_bog = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.yaml";

/// What `check` says of one override; refused, with nothing on standard output.
std::string answer(const std::string& set) {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says("check " + peat_bog + " --set '" + set + "'", scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  return "\n" + said.err;
}

}  // namespace

TEST_CASE("--set: a value that the file could not have either") {
  CHECK(answer("cell.capacity=4000 mah") == R"(
--set cell.capacity: the unit 'mah' is not known; capacity is given in mAh
    cell.capacity=4000 mah
                       ^^^
  try: 4000 mAh
)");
  CHECK(answer("lead.resistance=0,5 ohm") == R"(
--set lead.resistance: the decimal sign is a point, not a comma
    lead.resistance=0,5 ohm
                    ^^^
  try: 0.5 ohm
)");
  CHECK(answer("boost.lockout=9 V") == R"(
--set boost.lockout: the part would start only with an input above its own set-point
    boost.lockout=9 V
                  ^^^
  try: choose lockout + lockout_hysteresis below output_voltage
)");
  CHECK(answer("logger.phases={name: send") == R"(
--set logger.phases: not valid YAML: this '{' is not closed
    logger.phases={name: send
                  ^
  try: close it with '}', or put the missing comma
)");
}

TEST_CASE("--set: a path that leads nowhere") {
  CHECK(answer("cel.capacity=4 Ah") == R"(
--set cel.capacity: the scenario has neither a part nor a section 'cel'
    cel.capacity=4 Ah
    ^^^
  try: cell
)");
  CHECK(answer("cell.capasity=4 Ah") == R"(
--set cell.capasity: model cell has no key 'capasity'
    cell.capasity=4 Ah
         ^^^^^^^^
  try: capacity
)");
  CHECK(answer("logger.phases[sendd].current=3 mA") == R"(
--set logger.phases[sendd].current: logger.phases has no row named 'sendd'
    logger.phases[sendd].current=3 mA
                  ^^^^^
  try: send
)");
  CHECK(answer("logger.phases[0].current=3 mA") == R"(
--set logger.phases[0].current: logger.phases has 3 rows, counted from 1
    logger.phases[0].current=3 mA
                  ^
  try: logger.phases[1]
)");
  CHECK(answer("logger.phases.current=3 mA") == R"(
--set logger.phases.current: logger.phases is a list
    logger.phases.current=3 mA
                  ^^^^^^^
  try: logger.phases[1].current, with the number or name of a row
)");
  CHECK(answer("policy.table[1].every=3 h") == R"(
--set policy.table[1].every: policy.table does not stand in the file as a list
    policy.table[1].every=3 h
                 ^
  try: --set 'policy.table=[...]' with all its rows
)");
  CHECK(answer("parts.cel.capacity=3 Ah") == R"(
--set parts.cel.capacity: there is no part 'cel'
    parts.cel.capacity=3 Ah
          ^^^
  try: cell
)");
  CHECK(answer("lead.resistance.hot=1 ohm") == R"(
--set lead.resistance.hot: lead.resistance is one value, and nothing stands below it
    lead.resistance.hot=1 ohm
                    ^^^
  try: lead.resistance
)");
}

TEST_CASE("--set: no path, no value, twice") {
  CHECK(answer("cell.capacity") == R"(
--set 'cell.capacity': no value is given: a path, =, and its value
  try: --set 'cell.capacity=4000 mAh'
)");
  CHECK(answer("cell..capacity=1 Ah") == R"(
--set cell..capacity: a name is missing in the path
    cell..capacity=1 Ah
         ^
  try: PART.KEY, SECTION.KEY or SECTION.KEY[ROW].KEY
)");
  CHECK(answer("cell.capacity=3 Ah' --set 'cell.capacity=4 Ah") == R"(
--set cell.capacity: it is given twice
  try: keep one of the two
)");
}

namespace {

/// What `why` says; refused, with nothing on standard output.
std::string why_answer(const std::string& arguments) {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says("why " + arguments, scratch);
  CHECK(said.code == 2);
  CHECK(said.out.empty());
  return "\n" + said.err;
}

const std::string scenarios = std::string(OVERWINTER_SOURCE) + "/scenarios/";

}  // namespace

TEST_CASE("why: brown-outs that are not there") {
  const std::string a_day = scenarios + "outcomes/flag-never-cleared.yaml --set span.to=2024-12-01";
  CHECK(why_answer(a_day + " --brownout 4") == R"(
--brownout 4: the run has 1 brown-out, counted from 1
  try: --brownout 1
)");
  CHECK(why_answer(scenarios + "outcomes/survives.yaml --set span.to=2025-03-01 --brownout 1") == R"(
--brownout 1: the run has no brown-out
  try: `overwinter run` tells how it ends
)");
  CHECK(why_answer(a_day + " --brownout 0") == R"(
--brownout '0': brown-outs are counted from 1
  try: --brownout 1
)");
  CHECK(why_answer(a_day + " --brownout 1 --all") == R"(
--brownout 1: --all tells all of them already
  try: one of the two
)");
  CHECK(why_answer(a_day + " --brownout") == R"(
overwinter why: --brownout needs a value
  try: --brownout N
)");
}

TEST_CASE("why: one run at a time, and its own options") {
  CHECK(why_answer(scenarios + "snow-stake.yaml --seeds 1..3") == R"(
overwinter why: these are 3 runs, and it looks into one
  try: one weather file, one seed, one year
)");
  CHECK(why_answer("a.yaml --suppose x") == R"(
overwinter why: there is no option '--suppose'
  try: overwinter revive, which has it
)");
  CHECK(why_answer(peat_bog + " --set cel.capacity=1") == R"(
--set cel.capacity: the scenario has neither a part nor a section 'cel'
    cel.capacity=1
    ^^^
  try: cell
)");
}

TEST_CASE("why: margins that are none") {
  for (const std::string margin : {"20", "'0 %'", "'-5 %'"}) {
    const std::string plain = margin == "20" ? "'20'" : margin;
    CHECK(why_answer(peat_bog + " --margin " + margin) ==
          "\n--margin " + plain + ": --margin must be from 0.1 % to 1000 %\n  try: --margin \"20 %\"\n");
  }
  CHECK(why_answer(peat_bog + " --margin ''") == R"(
--margin: the value is empty
  try: --margin "20 %"
)");
}
