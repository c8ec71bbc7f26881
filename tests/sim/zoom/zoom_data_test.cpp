#include "sim/zoom/zoom_data.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "tests/sim/zoom/support/invented_start.hpp"

using namespace overwinter;

namespace {

/// What zoom.js makes of a signal.
std::vector<double> unpacked(const nlohmann::json& signal) {
  std::vector<double> values;
  double sum = 0;
  const auto& steps = signal.at("steps");
  for (std::size_t i = 0; i < steps.size(); ++i) {
    const bool still = steps[i] == 0;
    if (still) ++i;
    if (!still) sum += steps[i].get<double>();
    values.insert(values.end(), still ? steps[i].get<std::size_t>() : 1, sum / signal.at("scale").get<double>());
  }
  return values;
}

}  // namespace

TEST_CASE("the drawn numbers come back as they went in, to a 1e-5 of their change") {
  Waveforms w = test::invented_start();
  for (int row = 0; row < 200; ++row) {
    w.times.push_back(w.times.back() + 1 + 997 * row);
    for (std::size_t s = 0; s < w.signals.size(); ++s) {
      w.values.push_back(w.signals[s].holds() ? (row / 50) % 2
                                              : std::sin(0.1 * row) * std::pow(0.1, static_cast<double>(s)));
    }
  }
  const std::vector<Extent> all = extents(w);
  const auto data = nlohmann::json::parse(zoom_data(w, all));
  Tick time = w.moment;
  REQUIRE(data.at("time").size() == w.times.size());
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    time += data.at("time")[row].get<Tick>();
    REQUIRE(time == w.times[row]);
  }
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    CAPTURE(w.signals[s].full_name());
    const std::vector<double> out = unpacked(data.at("signals")[s]);
    REQUIRE(out.size() == w.times.size());
    for (std::size_t row = 0; row < w.times.size(); ++row) {
      const double in = written_value(w.value(row, s), w.signals[s]);
      REQUIRE(std::abs(out[row] - in) <= (w.signals[s].holds() ? 0 : 0.51e-5 * (all[s].most - all[s].least)));
    }
  }
}

TEST_CASE("what holds still is a number and a count") {
  Waveforms w = test::invented_start();
  for (std::size_t row = 0; row < w.times.size(); ++row) w.values[row * w.signals.size()] = 3.7;
  const auto data = nlohmann::json::parse(zoom_data(w, extents(w)));
  const auto& steps = data.at("signals")[0].at("steps");
  REQUIRE(steps.size() == 3);
  CHECK(steps[1] == 0);
  CHECK(steps[2] == 4);
  CHECK(unpacked(data.at("signals")[0]) == std::vector<double>(5, 3.7));
}

TEST_CASE("marks are numbered by lane and event, thresholds by signal") {
  const Waveforms w = test::invented_start();
  const auto data = nlohmann::json::parse(zoom_data(w, extents(w)));
  CHECK(data.at("marks") == nlohmann::json::parse("[[0,0,0],[0,1,0],[12500,2,0],[2000000,0,0]]"));
  CHECK(data.at("thresholds") == nlohmann::json::parse("[[0,2.75],[3,500]]"));
  const std::vector<MarkLane> lanes = mark_lanes(w);
  REQUIRE(lanes.size() == 3);
  CHECK(lanes[0].group == "boost");
  CHECK(lanes[0].events == std::vector<std::string>{"starts"});
  CHECK(lanes[2].group == "network");
}
