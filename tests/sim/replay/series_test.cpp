#include "sim/replay/series.hpp"

#include <doctest/doctest.h>

#include "tests/support/replayed.hpp"

using namespace overwinter;

TEST_CASE("the report's series follow the samples, one entry a sample, and take the record's wakes") {
  const test::Replayed bench("scenarios/peat-bog-harvest.yaml", {2025, 1, 20}, {2025, 1, 21});
  std::size_t cell = 0;
  while (bench.diagram.parts()[cell].table->name != "cell") ++cell;
  SeriesCollector collector(bench.diagram, bench.weather, cell);
  SimulatorOptions options;
  options.sample_every = 3600 * ticks_per_second;
  Simulator simulator(bench.diagram, bench.weather, options, &collector);
  Context c = simulator.start();
  collector.on_sample(c.now, c.state.data(), simulator.at(c));
  simulator.advance(c, bench.weather.end());

  ServiceRecord record;
  record.completed_at = {bench.weather.begin() + 5, bench.weather.begin() + 9};
  record.brownouts.resize(1);
  record.brownouts[0].begin = bench.weather.begin() + 7;
  const ReportSeries s = collector.finish(&record);
  REQUIRE(s.time.size() == 49);  // both ends
  CHECK(s.time.front() == bench.weather.begin());
  CHECK(s.time.back() == bench.weather.end());
  for (const auto* values : {&s.voltage, &s.charge, &s.cell_temperature, &s.air, &s.light}) {
    CHECK(values->size() == s.time.size());
  }
  for (std::size_t i = 0; i < s.time.size(); ++i) {
    CHECK(s.voltage[i] > 3);
    CHECK(s.voltage[i] < 4.25);
    CHECK(s.charge[i] > 0);
    CHECK(s.charge[i] <= 1);
    CHECK(s.light[i] >= 0);
    if (i > 0) CHECK(s.time[i] - s.time[i - 1] == options.sample_every);
  }
  // Air and light of the interval that begins at the sample or holds it.
  for (std::size_t i = 0; i + 1 < s.time.size(); ++i) {
    for (const WeatherInterval& interval : bench.weather.intervals()) {
      if (interval.begin > s.time[i] || interval.end <= s.time[i]) continue;
      CHECK(s.air[i] == (interval.ambient.air - zero_celsius).si());
      CHECK(s.light[i] == interval.ambient.sky.global_horizontal.si());
    }
  }
  CHECK(s.wakes == record.completed_at);
  CHECK(s.brownouts == std::vector<Tick>{record.brownouts[0].begin});
}
