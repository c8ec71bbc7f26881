#include "sim/weather/closure.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "sim/weather/weather.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;

Observer at(double latitude, double longitude) {
  Site site;
  site.latitude = latitude * units::degree;
  site.longitude = longitude * units::degree;
  return observer_at(site);
}

/// Clear days whose columns close, by a clock that is `late` behind. `haze` of the direct light is diffuse besides.
std::vector<RadiationRow> clear_days(const Observer& observer, Tick late, Tick step = hour, int days = 20) {
  std::vector<RadiationRow> rows;
  const Tick first = days_since_epoch({2024, 4, 1}) * ticks_per_day;
  for (Tick t = first; t < first + days * ticks_per_day; t += step) {
    const SunPosition sun = sun_position(t + step / 2, observer);
    const double global = clear_sky(sun.zenith).si(), sine = std::max(0.0, cos(sun.zenith));
    const double diffuse = 0.2 * global;
    rows.push_back({t + late, t + late + step, global, sine > 0.02 ? (global - diffuse) / sine : 0, diffuse});
  }
  return rows;
}

}  // namespace

TEST_CASE("columns that close say nothing") {
  const Observer here = at(22, 82.5);
  CHECK(*closure_rms(clear_days(here, 0), here) < 1e-9);
  CHECK_FALSE(better_clock(clear_days(here, 0), here));
  CHECK_FALSE(better_clock({}, here));
  CHECK_FALSE(closure_rms(clear_days(here, 2 * hour, hour, 2), here));  // some 20 rows
}

TEST_CASE("the clock on which columns close is found") {
  for (const double longitude : {82.5, -100.0}) {
    const Observer here = at(22, longitude);
    for (const Tick late : {-12 * hour + hour / 2, -5 * hour, -hour / 2, hour / 2, hour, 7 * hour + hour / 4}) {
      CAPTURE(late / (hour / 4));
      for (const Tick step : {hour, hour / 6}) {
        const auto found = better_clock(clear_days(here, late, step), here);
        REQUIRE(found);
        CHECK(found->later.si() == doctest::Approx(static_cast<double>(late) / ticks_per_second));
        CHECK(found->better_rms < 1e-9);
        CHECK(found->rms > 10);
      }
    }
  }
}

TEST_CASE("columns that no clock closes say nothing of the clock") {
  const Observer here = at(22, 82.5);
  std::vector<RadiationRow> rows = clear_days(here, 0);
  for (RadiationRow& row : rows) row.direct *= 0.8;  // a tracker that is off
  CHECK(*closure_rms(rows, here) > 10);
  CHECK_FALSE(better_clock(rows, here));
}
