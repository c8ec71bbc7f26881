#include "models/paths/joint.hpp"

#include <doctest/doctest.h>

#include <limits>

#include "tests/models/support/alone.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

/// Between two voltages, its drop solved for: (1) is linear in it.
Alone joint(Resistance r, double a, double b) {
  Alone j = build<Joint>(JointParameters{r, Resistance{std::numeric_limits<double>::infinity()}});
  j.z = {a, b, 0, a - b};
  return j;
}

}  // namespace

TEST_CASE("joint: Ohm's law through the drop") {
  const Alone j = joint(Resistance{0.01}, 3.75, 3.5);
  CHECK(j.currents()[0] == doctest::Approx(25.0).epsilon(1e-14));
  CHECK(j.currents()[1] == -j.currents()[0]);
  CHECK(j.currents()[2] == 0);
  CHECK(j.currents()[3] == 0);
  CHECK(j.output("current") == j.currents()[0]);
  CHECK(j.flow("heat") == doctest::Approx(0.25 * 25).epsilon(1e-14));
}

TEST_CASE("joint: a bridge that is not there carries nothing and hinders nothing") {
  const Alone j = joint(Resistance{std::numeric_limits<double>::infinity()}, 3.75, -3.5);
  CHECK(j.currents() == std::vector<double>{0, 0, 0, 0});
  CHECK(j.flow("heat") == 0);
}

TEST_CASE("joint: the current of a sound one does not drown in the rounding of its ends") {
  // 1 uA through 0.1 mohm drops 1e-10 V; a double near 4 V has steps of 4.4e-16 V, which would be 4 pA.
  Alone j = joint(sound_joint, 4, 4);
  j.z[3] = 1e-10;
  CHECK(j.currents()[0] == doctest::Approx(1e-6).epsilon(1e-15));
  CHECK(joint(broken_joint, 12, 0).currents()[0] < 1e-10);
}

TEST_CASE("joint (3): behind it a pin leaks to the part's reference") {
  Alone j = build<Joint>(JointParameters{broken_joint, board_leakage});
  j.z = {4, 1, 0.5, 3};
  CHECK(j.currents()[2] == doctest::Approx(-0.5e-11).epsilon(1e-12));
  CHECK(j.currents()[0] + j.currents()[1] + j.currents()[2] == doctest::Approx(0).scale(1e-20));
  CHECK(j.flow("heat") == doctest::Approx(9e-12 + 0.25e-11).epsilon(1e-12));
}
