#include "sim/number_text.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

TEST_CASE("numbers: what rounds to nothing has no sign") {
  CHECK(fixed_text(-0.04, 1) == "0.0");
  CHECK(fixed_text(-0.0, 0) == "0");
  CHECK(fixed_text(-0.06, 1) == "-0.1");
  CHECK(fixed_text(-100, 0) == "-100");
  CHECK(fixed_text(12.345, 2) == "12.35");
  CHECK(percent_text(-4e-4) == "0.0 %");
  CHECK(percent_text(0.22016) == "22.0 %");
  CHECK(percent_text(0.0117, 2) == "1.17 %");
  CHECK(energy_text(-4e-8) == "0 J");
  CHECK(millivolts_text(-1e-5) == "0 mV");
  CHECK(millivolts_text(0.0367) == "37 mV");
  CHECK(residual_text(-0.0) == "0");
  CHECK(residual_text(-4.8e-15) == "-4.8e-15");
}

TEST_CASE("energies stand in the unit that leaves one to three digits before the point") {
  CHECK(energy_text(0) == "0 J");
  CHECK(energy_text(6.9e-6) == "6.9 uJ");
  CHECK(energy_text(0.0031) == "3.1 mJ");
  CHECK(energy_text(0.99949) == "999.5 mJ");
  CHECK(energy_text(0.9995) == "1.0 J");
  CHECK(energy_text(-14.2) == "-14.2 J");
  CHECK(energy_text(999.4) == "999.4 J");
  CHECK(energy_text(999.5) == "1.00 kJ");
  CHECK(energy_text(1298.62) == "1.30 kJ");
  CHECK(energy_text(777222.7) == "777.22 kJ");
  CHECK(energy_text(1.2e6) == "1.20 MJ");
}

TEST_CASE("two durations are compared in one unit, that of the second") {
  constexpr double hour = 3600, day = 24 * hour;
  CHECK(duration_text_like(6.99 * day, 25 * hour) == "168 h");
  CHECK(duration_text_like(31.5 * hour, 25 * hour) == "31.5 h");
  CHECK(duration_text_like(7200, 3 * day) == "0.0833 d");
  CHECK(duration_text_like(90, 600) == "1.5 min");
  CHECK(duration_text_like(0, 25 * hour) == "0 h");
  CHECK(duration_text_like(24 * hour + 1, 24 * hour, 6) == "24.0003 h");
  CHECK(duration_text_like(1e6, 20) == "1000000 s");
}
