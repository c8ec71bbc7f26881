#include "models/paths/resistor.hpp"

#include <doctest/doctest.h>

#include "tests/models/support/alone.hpp"
#include "tests/models/support/near.hpp"

using namespace overwinter;
using namespace overwinter::test;

TEST_CASE("resistor (1): Ohm's law, either way round") {
  Alone r = build<Resistor>(ResistorParameters{Resistance{250.0}, PerKelvin{0.0}});
  r.start(air(-25));
  r.z = {3.0, 0.5};
  CHECK(r.currents() == std::vector<double>{0.01, -0.01});
  CHECK(r.output("current") == 0.01);
  CHECK(r.flow("heat") == 0.025);
  r.z = {0.5, 3.0};
  CHECK(r.currents() == std::vector<double>{-0.01, 0.01});
  CHECK(r.flow("heat") == 0.025);
}

TEST_CASE("resistor (2): copper wire over temperature") {
  // AWG 24 with the 0.00393 1/K of IEC 60028: times 1.1572 at 60 degC, times 0.8428 at -20 degC; 5e-5 is half the last
  // digit.
  Alone r = build<Resistor>(ResistorParameters{Resistance{0.08421}, PerKelvin{0.00393}});
  r.z = {1, 0};
  for (const auto& [degrees, factor] : {std::pair{60.0, 1.1572}, {-20.0, 0.8428}, {20.0, 1.0}}) {
    r.weather(air(degrees));
    CHECK(std::abs(1 / r.output("current") / 0.08421 - factor) < 5e-5);
  }
}
