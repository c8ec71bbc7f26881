#include "models/thermal.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/near.hpp"

using namespace overwinter;
using overwinter::test::relative_error;

TEST_CASE("thermal voltage") {
  // k/q with the exact constants of the 2019 SI; absolute 1e-9 V is the last printed digit.
  CHECK(std::abs(thermal_voltage(celsius(25)).si() - 25.692579e-3) < 1e-9);
  CHECK(relative_error(thermal_voltage(celsius(-40)).si(), 25.692579e-3 * 233.15 / 298.15) < 1e-7);
}

TEST_CASE("arrhenius: 1 at the reference, above 1 in the cold, the same for every reference chosen as start") {
  const Energy activation{0.25 * 1.602176634e-19};
  CHECK(arrhenius(activation, reference_temperature) == 1.0);
  CHECK(arrhenius(activation, celsius(0)) > 1);
  CHECK(arrhenius(activation, celsius(45)) < 1);
  CHECK(arrhenius(Energy{0.0}, celsius(-30)) == 1.0);
  // By hand: 0.25 eV over k = 2901.13 K; 1/273.15 - 1/298.15 = 3.069770e-4 /K; exp(0.890580) = 2.436542.
  CHECK(relative_error(arrhenius(activation, celsius(0)), 2.43654) < 1e-5);
  const double there = arrhenius(activation, celsius(0), celsius(10)),
               back = arrhenius(activation, celsius(10), celsius(0));
  CHECK(there * back == doctest::Approx(1.0).epsilon(1e-14));
}
