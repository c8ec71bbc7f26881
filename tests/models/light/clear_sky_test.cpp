#include "models/light/clear_sky.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

TEST_CASE("a cloudless sky is dark with the sun down and brightens with its height") {
  CHECK(clear_sky(90 * units::degree).si() == 0);
  CHECK(clear_sky(120 * units::degree).si() == 0);
  double last = 1361;
  for (double zenith = 0; zenith < 90; zenith += 1) {
    const double now = clear_sky(zenith * units::degree).si();
    CHECK(now < last);
    CHECK(now >= 0);
    last = now;
  }
}
