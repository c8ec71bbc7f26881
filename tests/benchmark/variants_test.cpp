#include "tools/benchmark/variants.hpp"

#include <doctest/doctest.h>

#include <cstdlib>

#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"
#include "tools/benchmark/course.hpp"

using namespace overwinter;

namespace {

const std::string ten_minutes = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-ten-minutes.yaml";

/// Six hours: 35 wakes.
Course six_hours(const std::string& path) {
  const Scenario scenario = first_days(path, 1);
  const test::Replayed bench(scenario);
  return run_course(bench.diagram, bench.weather, phases_method(), 1e-6, 6 * 3600 * ticks_per_second);
}

}  // namespace

TEST_CASE("benchmark: a scenario with its phases cut wakes as often, as long and as hungrily, in more load steps") {
  const test::Scratch scratch;
  const Phased same = with_phases_cut(ten_minutes, 1), cut = with_phases_cut(ten_minutes, 3);
  CHECK(same.phases == 6);
  CHECK(cut.phases == 18);
  const Course a = six_hours(scratch.write("same.yaml", same.yaml)), b = six_hours(scratch.write("cut.yaml", cut.yaml));
  CHECK(a.wakes == 35);
  CHECK(b.wakes == a.wakes);
  CHECK(std::abs(b.service.back().time - a.service.back().time) < ticks_per_second / 1000);
  CHECK(b.charge.back() == doctest::Approx(a.charge.back()).epsilon(1e-4));
  CHECK(b.events >= a.events + 12 * a.wakes);
}

TEST_CASE("benchmark: a shortened scenario keeps its weather and ends after as many days") {
  const test::Scratch scratch;
  const Scenario s = read_scenario(scratch.write("short.yaml", shortened(ten_minutes, 2)));
  CHECK(iso(s.from) == "2024-10-15");
  CHECK(iso(s.to) == "2024-10-16");
  CHECK(weather_of(s, std::nullopt).intervals().size() == 48);
}
