#include "sim/weather/clock_jumps.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "models/light/clear_sky.hpp"
#include "sim/weather/climate.hpp"
#include "sim/weather/synthetic.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// Hours of invented weather as a logger's clock has them that is put forward, or only misses an hour, at `gap`.
MeasuredRecord record(Climate climate, std::uint64_t seed, DaySpan span, Tick gap, bool jumps) {
  MeasuredRecord r = synthetic_record(climate, seed, span);
  const auto at = static_cast<std::size_t>((gap - r.begin) / r.step);
  const MeasuredRow nothing{none, none, none, none};
  if (jumps) {
    r.rows.insert(r.rows.begin() + static_cast<std::ptrdiff_t>(at), nothing);
  } else {
    r.rows[at] = nothing;
  }
  return r;
}

/// Without what lies before that.
MeasuredRecord from(Tick first, MeasuredRecord r) {
  r.rows.erase(r.rows.begin(), r.rows.begin() + (first - r.begin) / r.step);
  r.begin = first;
  return r;
}

Tick at(CivilDate day, int h) { return days_since_epoch(day) * ticks_per_day + h * hour; }

}  // namespace

TEST_CASE("clocks change at night in spring and autumn") {
  CHECK(clocks_may_change(at({2024, 3, 31}, 2)));
  CHECK(clocks_may_change(at({2024, 10, 6}, 2)));
  CHECK(clocks_may_change(at({2024, 3, 30}, 23)));
  CHECK_FALSE(clocks_may_change(at({2024, 3, 31}, 12)));
  CHECK_FALSE(clocks_may_change(at({2024, 1, 31}, 2)));
}

TEST_CASE("a clock that is put forward is found by the light, a missing hour is not taken for one") {
  Climate climate = read_climate(OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml");
  climate.site.utc_offset = Duration{};
  climate.site.longitude = Angle{};
  struct Season {
    DaySpan span;
    Tick gap, first;
  };
  for (const Season& season : {Season{{{2025, 3, 1}, {2025, 4, 20}}, at({2025, 3, 30}, 1), at({2025, 3, 1}, 0)},
                               // With ten days only before it.
                               Season{{{2025, 3, 1}, {2025, 4, 20}}, at({2025, 3, 30}, 1), at({2025, 3, 20}, 0)},
                               Season{{{2025, 9, 1}, {2025, 10, 25}}, at({2025, 10, 5}, 2), at({2025, 9, 1}, 0)}}) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
      CAPTURE(seed);
      const Observer here = observer_at(climate.site);
      const auto found = clock_jumps(from(season.first, record(climate, seed, season.span, season.gap, true)), here, 0);
      REQUIRE(found.size() == 1);
      CHECK(found[0].begin == season.gap);
      CHECK(found[0].end == season.gap + hour);
      CHECK((found[0].after - found[0].before).si() == doctest::Approx(3600).epsilon(0.35));
      CHECK(clock_jumps(from(season.first, record(climate, seed, season.span, season.gap, false)), here, 0).empty());
    }
  }
}

TEST_CASE("too little light on one side, another gap or another season say nothing") {
  Climate climate = read_climate(OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml");
  climate.site.utc_offset = Duration{};
  climate.site.longitude = Angle{};
  const Observer here = observer_at(climate.site);
  const DaySpan summer{{2025, 6, 1}, {2025, 6, 30}};
  const MeasuredRecord spring = record(climate, 1, {{2025, 3, 1}, {2025, 4, 20}}, at({2025, 3, 30}, 1), true);
  CHECK(clock_jumps(from(at({2025, 3, 21}, 0), spring), here, 0).empty());
  CHECK(clock_jumps(from(at({2025, 3, 19}, 0), spring), here, 0).size() == 1);
  CHECK(clock_jumps(record(climate, 1, summer, at({2025, 6, 15}, 1), true), here, 0).empty());
  MeasuredRecord longer = record(climate, 1, {{2025, 3, 10}, {2025, 4, 20}}, at({2025, 3, 30}, 1), true);
  longer.rows[static_cast<std::size_t>((at({2025, 3, 30}, 2) - longer.begin) / longer.step)] = {none, none, none, none};
  CHECK(clock_jumps(longer, here, 0).empty());
}
