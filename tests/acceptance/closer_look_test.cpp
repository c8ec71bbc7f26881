// A lockout that lasts less than a microsecond, and what a run without the zoom makes of it.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "sim/netlist/scenario.hpp"
#include "sim/replay/simulate.hpp"
#include "sim/replay/weather_input.hpp"
#include "tests/support/shipped.hpp"
#include "tests/support/working_folder.hpp"

using namespace overwinter;

namespace {

class FirstLockout final : public RunWatcher {
 public:
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (h.event_name() == "lockout" && at.empty()) at = iso_time(h.time);
    if (h.event_name() == "wake completed") ++completed;
  }
  std::string at;
  std::size_t completed = 0;
};

struct Seen {
  FirstLockout watched;
  nlohmann::ordered_json summary;
};

Seen dips(bool look_closer, const std::string& last_day) {
  const test::WorkingFolder folder;
  const Scenario scenario = read_scenario(
      folder.write("dips.yaml", test::shipped("outcomes/switch-on-dip.yaml", {{"to: 2024-12-20", "to: " + last_day}})));
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  RunOptions options;
  options.look_closer = look_closer;
  Seen seen;
  seen.summary = simulate(scenario, weather, diagram, options, {&seen.watched}).summary;
  return seen;
}

}  // namespace

TEST_CASE("dips at switch-on: the first lockout comes a week before the one that a run without the zoom knows of") {
  const Seen closer = dips(true, "2024-12-13"), settled = dips(false, "2024-12-20");
  CHECK(closer.watched.at == "2024-12-13T00:33:44Z");
  CHECK(settled.watched.at == "2024-12-19T21:25:58Z");
  const auto& zooms = closer.summary.at("zooms");
  CHECK(zooms.at("failed").get<int>() > 0);
  CHECK(zooms.at("looked_into").get<int>() < zooms.at("thin").get<int>() / 4);
  CHECK(settled.summary.find("zooms") == settled.summary.end());
  // The converter starts anew 0.1 s later, with the reservoir partly charged: no wake is lost.
  CHECK(closer.summary.at("brownouts").at("count") == 0);
  CHECK(closer.watched.completed > 1800);
  CHECK(std::abs(closer.summary.at("energy").at("residual_independent").get<double>()) < 1e-8);
}

TEST_CASE("dips at switch-on: a switch that turns on slowly has none") {
  const test::WorkingFolder folder;
  const Scenario scenario = read_scenario(folder.write(
      "slow.yaml", test::shipped("outcomes/switch-on-dip.yaml", {{"to: 2024-12-20", "to: 2024-12-15"},
                                                                 {"p-switch-logic-30mohm", "p-switch-soft-30mohm"},
                                                                 {"pull_up: {net: rail, resistance: 1 Mohm}",
                                                                  "pull_up: {net: rail, resistance: 1 Mohm, series: "
                                                                  "100 kohm}"}})));
  const Weather weather = weather_of(scenario, std::nullopt);
  const Diagram diagram(scenario);
  FirstLockout watched;
  const auto summary = simulate(scenario, weather, diagram, {}, {&watched}).summary;
  CHECK(watched.at.empty());
  CHECK(summary.at("zooms").at("looked_into").get<int>() > 0);
  CHECK(summary.at("zooms").at("failed") == 0);
}
