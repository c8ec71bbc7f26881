#include "sim/service/story.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/replay/simulate.hpp"
#include "tests/support/model_of.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

const std::string outcomes = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/";

struct Told {
  test::Replayed of;
  RunResult run;
  Told(const std::string& file, const std::vector<Override>& overrides)
      : of(read_scenario(outcomes + file, overrides)), run(simulate(of.scenario, of.weather, of.diagram, {}, {})) {}
};

}  // namespace

TEST_CASE("the numbers at the moment of a trip fit the circuit: source, path, load and threshold") {
  const Told told("undecided.yaml", {{"cell.charge", "6 %"}, {"span", "{from: 2024-12-18, to: 2024-12-19}"}});
  REQUIRE(!told.run.stories.empty());
  const Story& story = told.run.stories[0];
  REQUIRE(story.moment);
  const Snapshot& s = *story.moment;
  const BrownOut& b = told.run.service->brownouts[0];
  CHECK(s.time == b.chain.front().time);
  CHECK(s.part == "guard");
  CHECK(s.in_phase);
  CHECK(s.doing == "send");

  // Textbook: a constant-power load behind a resistance settles at V = (E + sqrt(E^2 - 4 R P)) / 2.
  REQUIRE(s.crossed);
  REQUIRE(s.crossed->path);
  const double e = s.inner_voltage(), r = s.series + *s.crossed->path, p = s.drawn();
  CHECK(s.crossed->reached == doctest::Approx((e + std::sqrt(e * e - 4 * r * p)) / 2).epsilon(1e-9));
  CHECK(p == doctest::Approx(s.crossed->reached * s.current).epsilon(1e-12));
  CHECK(s.crossed->limit == doctest::Approx(2.8));
  CHECK(s.crossed->reached <= s.crossed->limit + 0.002);
  // On the way to where the protector watches lies the lead alone: 0.15 ohm at 20 degC, 0.393 %/K (copper).
  const double lead = 0.15 * (1 + 0.00393 * (s.temperature - 293.15));
  CHECK(*s.crossed->path == doctest::Approx(lead).epsilon(0.02));  // the lead is at the air's temperature
  const Cell& cell = test::model_of<Cell>(told.of.scenario, "cell");
  CHECK(s.series == doctest::Approx(series_resistance(cell, s.charge, Temperature{s.temperature}).si()).epsilon(1e-6));

  // The radio takes its constant power.
  REQUIRE(!s.users.empty());
  CHECK(s.users[0].first == "radio");
  CHECK(s.users[0].second == doctest::Approx(1.1));
}

TEST_CASE("charge before, in and out add up to the charge at the moment") {
  const Told told("needs-human.yaml", {{"cell.charge", "45 %"}, {"span", "{from: 2024-10-01, to: 2024-10-04}"}});
  REQUIRE(told.run.stories.size() == 1);
  const Story& story = told.run.stories[0];
  REQUIRE(story.light);
  CHECK(story.light->dark);
  REQUIRE(story.charge_before);
  const double capacity = test::model_of<Cell>(told.of.scenario, "cell").parameters().capacity.si();
  // What is missing is self-discharge: 2 % a month at 25 degC are less than 0.2 % of the capacity in three days.
  const double missing = *story.charge_before + (story.charge_in - story.charge_out) / capacity - story.moment->charge;
  CHECK(missing > -1e-6);
  CHECK(missing < 0.002);
  CHECK(story.days_since > 0);
  CHECK(story.blocked.size() >= 1);
  CHECK(story.blocked[0].part == "guard");
}

TEST_CASE("a start in vain is paid for, a completed wake is not; what came back is told") {
  const Told vain("undecided.yaml", {{"cell.charge", "3 %"}, {"span", "{from: 2024-12-20, to: 2024-12-21}"}});
  REQUIRE(vain.run.stories.size() >= 1);
  double in_vain = 0;
  for (const Story& story : vain.run.stories) in_vain += story.energy_in_vain;
  const auto& energy = vain.run.summary.at("energy");
  CHECK(in_vain > 0);
  CHECK(in_vain < energy.at("delivered_J").get<double>() + energy.at("lost_J").get<double>());

  const Told back("recovers.yaml", {{"cell.charge", "5 %"}, {"span", "{from: 2024-09-26, to: 2024-09-28}"}});
  REQUIRE(!back.run.stories.empty());
  const BrownOut& b = back.run.service->brownouts[0];
  REQUIRE(b.recovered);
  REQUIRE(back.run.stories[0].charge_back);
  CHECK(*back.run.stories[0].charge_back > back.run.stories[0].moment->charge);
  CHECK(back.run.stories[0].blocked.empty());
}

TEST_CASE("a wake that nothing started is told from when it was found out") {
  const Told told("flag-never-cleared.yaml", {{"span", "{from: 2024-12-01, to: 2024-12-01}"}});
  REQUIRE(told.run.stories.size() == 1);
  REQUIRE(told.run.stories[0].moment);
  const Snapshot& s = *told.run.stories[0].moment;
  CHECK(s.part.empty());
  CHECK(!s.crossed);
  CHECK(s.doing == "idle");
  CHECK(s.time > told.run.service->brownouts[0].begin);
}
