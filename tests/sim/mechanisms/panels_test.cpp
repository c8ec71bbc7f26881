// Beside the pair of scenarios/mechanisms (tests/acceptance/mechanisms_test.cpp).
#include <doctest/doctest.h>

#include "tests/sim/mechanisms/support/seen.hpp"

using namespace overwinter;
using test::Json;
using test::seen;

TEST_CASE("panels: what a full cell refuses is not the panel's fault") {
  CHECK(seen(test::summary_of("panel-below-rating-not", {{"charge: 50 %", "charge: 100 %"}}), "panel-below-rating")
            .is_null());
}

TEST_CASE("panels: the light on the plane is the same whatever lies on it") {
  const Json moss = seen(test::summary_of("panel-below-rating"), "panel-below-rating");
  const Json snow = seen(test::summary_of("panel-below-rating", {{"transmittance: 25 %", "transmittance: 10 %"}}),
                         "panel-below-rating");
  CHECK(moss.at("light_kWh_m2").get<double>() == doctest::Approx(snow.at("light_kWh_m2").get<double>()).epsilon(1e-9));
  CHECK(moss.at("share").get<double>() > 2 * snow.at("share").get<double>());
}
