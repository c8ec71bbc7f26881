#include "sim/revive/trial.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "sim/replay/simulate.hpp"
#include "tests/sim/revive/support/revive_bench.hpp"

using namespace overwinter;
using Named = std::vector<std::pair<std::string, std::string>>;

namespace {

const std::string lamp = "outcomes/needs-human.yaml", phantom = "outcomes/phantom-supply.yaml",
                  forgetful = "outcomes/flag-never-cleared.yaml";
const Named empty_and_open{{"charge", "0.5 %"}, {"guard discharge", "tripped"}};

Named with(Named all, const Named& more) {
  all.insert(all.end(), more.begin(), more.end());
  return all;
}

TrialResult put_through(const test::ReviveBench& bench, const Named& named) {
  return revive_once(bench.setting, bench.state(named));
}
TrialResult put_through(const std::string& file, const Named& named, const std::vector<Override>& overrides = {}) {
  return put_through(test::ReviveBench(file, overrides), named);
}

/// The same scenario in a run as any other, over the dawn's weather.
RunResult ordinary_run(const std::string& file, const std::vector<Override>& overrides, const std::string& dawn) {
  const test::ReviveBench bench(file, overrides);
  for (const DawnProfile& d : bench.dawns) {
    if (d.name == dawn) return simulate(bench.run.scenario, d.weather, bench.run.diagram, {}, {});
  }
  throw std::logic_error("no dawn " + dawn);
}

}  // namespace

TEST_CASE("trial: a full enough instrument comes back at its alarm under every sky, with two wakes") {
  const test::ReviveBench bench(lamp);
  CHECK(wakes_to_be_sure(bench.run.diagram) == 2);
  for (const char* dawn : {"clear", "overcast", "cold"}) {
    CAPTURE(dawn);
    const TrialResult t = put_through(bench, {{"dawn", dawn}, {"charge", "40 %"}});
    CHECK(t.fate == Fate::back);
    CHECK(t.block.empty());
    REQUIRE(t.wakes.size() == 2);
    const Tick noon = pending_alarm(bench.dawns[0].weather);
    CHECK(t.wakes[0] > noon + 18 * ticks_per_second);
    CHECK(t.wakes[0] < noon + 20 * ticks_per_second);
    // The policy's hour, after the end of the wake; a crystal loses 7 s a day at most here.
    CHECK(std::abs(t.wakes[1] - t.wakes[0] - 3618 * ticks_per_second) < 2 * ticks_per_second);
    CHECK(t.attempts == 0);
  }
}

TEST_CASE("trial: a protector that only a charger releases is released by the sun, and the instrument comes back") {
  // The same with the lamp out, so that the pre-charge reaches the cell.
  const test::ReviveBench bench(lamp, {{"lamp.current", "0 mA"}});
  const TrialResult t = put_through(bench, {{"charge", "40 %"}, {"guard discharge", "tripped"}});
  CHECK(t.fate == Fate::back);
  const Daylight sun = daylight_on(bench.run.weather.site(), {2024, 10, 3});
  REQUIRE(t.wakes.size() == 2);
  CHECK(t.wakes[0] > sun.rise);
}

TEST_CASE("trial: a flag that waits starts the instrument at once where the cell is good") {
  const TrialResult t = put_through(lamp, {{"charge", "40 %"}, {"clock alarm", "flag set"}});
  CHECK(t.fate == Fate::back);
  REQUIRE(!t.wakes.empty());
  CHECK(t.wakes[0] < days_since_epoch({2024, 10, 3}) * ticks_per_day + 30 * ticks_per_second);
}

TEST_CASE("trial: neither flag nor alarm") {
  const TrialResult t = put_through(lamp, {{"charge", "40 %"}, {"clock alarm", "lost"}, {"clock coin cell", "gone"}});
  CHECK(t.fate == Fate::trap);
  CHECK(t.block == "no-alarm");
  CHECK(t.wakes.empty());
}

TEST_CASE("trial: a controller that hangs on a phantom supply") {
  const TrialResult t =
      put_through(phantom, {{"charge", "40 %"}, {"logger mode", "hung"}, {"logger supply", "phantom"}});
  CHECK(t.fate == Fate::trap);
  CHECK(t.block == "controller-hung");
  // Bus lines that carry next to nothing let the supply fall.
  const TrialResult cured =
      put_through(phantom, {{"charge", "40 %"}, {"logger mode", "hung"}, {"logger supply", "phantom"}},
                  {{"bus-lines.resistance", "1 Mohm"}});
  CHECK(cured.fate == Fate::back);
}

TEST_CASE("trial: a flag that the firmware never clears leaves the switch on after one wake") {
  const TrialResult t = put_through(forgetful, {{"charge", "40 %"}, {"clock alarm", "flag set"}});
  CHECK(t.fate == Fate::trap);
  CHECK(t.block == "switch-stuck");
  CHECK(t.wakes.size() == 1);
  CHECK(put_through(forgetful, {{"charge", "40 %"}, {"clock alarm", "flag set"}}, {{"logger.clears_flag", "true"}})
            .fate == Fate::back);
}

TEST_CASE("trial: the pre-charge that a lamp takes, and a protector that waits for it") {
  const test::ReviveBench bench(lamp);
  const Named flag{{"clock alarm", "flag set"}};
  const TrialResult empty = put_through(bench, with(empty_and_open, flag));
  CHECK(empty.fate == Fate::trap);
  CHECK(empty.block == "precharge-taken");
  const TrialResult charged = put_through(bench, with(flag, {{"charge", "40 %"}, {"guard discharge", "tripped"}}));
  CHECK(charged.fate == Fate::trap);
  CHECK(charged.block == "protector-waits");
}

TEST_CASE("trial: a charger that is too cold all day") {
  const Named flag{{"clock alarm", "flag set"}};
  const TrialResult t =
      put_through(lamp, with(with(empty_and_open, flag), {{"dawn", "cold"}, {"charger charge", "blocked"}}),
                  {{"charger.cold_limit", "10 degC"}});
  CHECK(t.fate == Fate::trap);
  CHECK(t.block == "charger-cold");
  CHECK(t.text.find("it charges again above 1") != std::string::npos);
}

TEST_CASE("trial: too little light is no trap") {
  const Named flag{{"clock alarm", "flag set"}, {"dawn", "overcast"}};
  const TrialResult t =
      put_through(lamp, with(empty_and_open, flag), {{"lamp.current", "0 mA"}, {"panel.transmittance", "0.2 %"}});
  CHECK(t.fate == Fate::undecided);
  CHECK(t.block == "little-light");
}

TEST_CASE("trial: a loop that gained nothing in a day is not gone through again") {
  const std::string loop = "mechanisms/reset-loop.yaml";
  const test::ReviveBench bench(loop, {}, {2025, 1, 10}, 3);
  CHECK(wakes_to_be_sure(bench.run.diagram) == 1);
  const TrialResult t = put_through(bench, {{"charge", "40 %"}});
  CHECK(t.fate == Fate::trap);
  CHECK(t.block == "reset-loop");
  const test::ReviveBench one_day(loop, {}, {2025, 1, 10}, 1);
  const TrialResult day = put_through(one_day, {{"charge", "40 %"}});
  CHECK(day.attempts > 10'000);
  CHECK(t.attempts == day.attempts);
  CHECK(t.charge_at_end == day.charge_at_end);
}

TEST_CASE("trial: what a state becomes within a minute") {
  const test::ReviveBench bench(lamp);
  CHECK_FALSE(becomes(bench.setting, bench.state({{"charge", "40 %"}})));
  CHECK_FALSE(becomes(bench.setting, bench.state(with(empty_and_open, {{"clock alarm", "flag set"}}))));
  // In the dark a charge that was complete is over.
  CHECK(becomes(bench.setting, bench.state({{"charge", "40 %"}, {"charger charge", "complete"}})) ==
        bench.state({{"charge", "40 %"}}));
  // An empty cell feeds a lamp until the protector trips.
  CHECK(becomes(bench.setting, bench.state({{"charge", "0.5 %"}})) == bench.state(empty_and_open));
  // How a controller that starts was found does not matter.
  CHECK(becomes(bench.setting,
                bench.state({{"charge", "40 %"}, {"clock alarm", "flag set"}, {"logger mode", "in reset"}})) ==
        bench.state({{"charge", "40 %"}, {"clock alarm", "flag set"}}));
}

TEST_CASE("trial: an ordinary run of the instrument ends in the same trap") {
  // The protector of an empty cell trips by itself, so that the scenario's own keys give the state.
  const TrialResult told = put_through(lamp, empty_and_open);
  REQUIRE(told.fate == Fate::trap);
  const RunResult run = ordinary_run(lamp, {{"cell.charge", "0.5 %"}, {"clock.first_alarm", "12 h"}}, "clear");
  REQUIRE(run.service);
  CHECK(run.service->due >= 1);
  CHECK(run.service->completed == 0);
  CHECK(run.summary.at("cell").at("soc_end").get<double>() == doctest::Approx(told.charge_at_end).epsilon(0.02));
}

TEST_CASE("trial: an ordinary run of the instrument comes back in the same seconds") {
  for (const char* dawn : {"clear", "overcast"}) {
    CAPTURE(dawn);
    const TrialResult told = put_through(lamp, {{"dawn", dawn}, {"charge", "15 %"}});
    REQUIRE(told.fate == Fate::back);
    const RunResult run = ordinary_run(lamp, {{"cell.charge", "15 %"}, {"clock.first_alarm", "12 h"}}, dawn);
    REQUIRE(run.service);
    REQUIRE(run.service->completed_at.size() >= 2);
    // A clock that is set for 12 h ahead drifts on the way; one that comes due at noon does not.
    for (std::size_t i = 0; i < 2; ++i) {
      CHECK(std::abs(run.service->completed_at[i] - told.wakes[i]) < 2 * ticks_per_second);
    }
  }
}

TEST_CASE("trial: what a closer look finds keeps an instrument dead, as it does in an ordinary run") {
  const std::string inrush = "mechanisms/inrush.yaml";
  test::ReviveBench bench(inrush);
  for (const Named& how : std::vector<Named>{{{"charge", "40 %"}}, {{"charge", "40 %"}, {"clock alarm", "flag set"}}}) {
    const TrialResult told = put_through(bench, how);
    CHECK(told.fate != Fate::back);
    CHECK(told.wakes.empty());
    CHECK(told.attempts > 0);
  }
  const RunResult run = ordinary_run(inrush, {{"cell.charge", "40 %"}, {"clock.first_alarm", "12 h"}}, "clear");
  REQUIRE(run.service);
  CHECK(run.service->due > 0);
  CHECK(run.service->completed == 0);
  // Without it nothing is known of that.
  bench.setting.engine.look_closer = false;
  CHECK(put_through(bench, {{"charge", "40 %"}}).fate == Fate::back);
}

TEST_CASE("trial: a cell that goes below empty is to be replaced, whatever else holds") {
  const std::string inrush = "mechanisms/inrush.yaml";
  const TrialResult told = put_through(inrush, {{"charge", "0.5 %"}});
  CHECK(told.fate == Fate::replace_cell);
  CHECK(told.block == "replace-cell");
  CHECK(told.text.find("cell was below empty at 2024-10-03T1") == 0);
  CHECK(told.charge_at_end <= 0);
  const RunResult run = ordinary_run(inrush, {{"cell.charge", "0.5 %"}, {"clock.first_alarm", "12 h"}}, "clear");
  CHECK(run.summary.at("cell").at("soc_min").get<double>() < 0);
  // A converter that locks out in time keeps it from that.
  const TrialResult kept =
      put_through(inrush, {{"charge", "0.5 %"}}, {{"boost.lockout", "2.9 V"}, {"boost.lockout_hysteresis", "0.2 V"}});
  CHECK(kept.fate == Fate::undecided);
  CHECK(kept.charge_at_end > 0);
}
