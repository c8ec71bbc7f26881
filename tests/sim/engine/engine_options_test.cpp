#include "sim/engine/engine_options.hpp"

#include <doctest/doctest.h>

#include "sim/ensemble/ensemble.hpp"
#include "sim/replay/replay.hpp"
#include "sim/revive/revive.hpp"
#include "sim/why/why.hpp"

using namespace overwinter;

namespace {

bool same(const SimulatorOptions& a, const SimulatorOptions& b) {
  return a.transient == b.transient && a.look_closer == b.look_closer && a.stepping == b.stepping &&
         a.elimination == b.elimination && a.tolerance == b.tolerance && a.longest_step == b.longest_step &&
         a.step_over_hiccups == b.step_over_hiccups;
}

}  // namespace

TEST_CASE("engine options: every choice reaches the simulator") {
  EngineOptions wanted;
  const SimulatorOptions usual = simulator_options(wanted, 7);
  CHECK(usual.look_closer);
  CHECK(usual.step_over_hiccups);
  CHECK(usual.sample_every == 7);
  CHECK(usual.tolerance == SimulatorOptions{}.tolerance);
  wanted.look_closer = false;
  wanted.every_start = true;
  wanted.tolerance = 1e-5;
  wanted.stepping = Stepping::reference;
  wanted.elimination = Elimination::dense;
  const SimulatorOptions other = simulator_options(wanted);
  CHECK_FALSE(other.look_closer);
  CHECK_FALSE(other.step_over_hiccups);
  CHECK(other.sample_every == 0);
  CHECK(other.tolerance == 1e-5);
  CHECK(other.stepping == Stepping::reference);
  CHECK(other.elimination == Elimination::dense);
}

TEST_CASE("engine options: run, why, revive and ensembles begin with the same ones, but for the tolerance of revive") {
  const SimulatorOptions usual = simulator_options(EngineOptions{});
  CHECK(same(simulator_options(ReplayOptions{}), usual));
  CHECK(same(simulator_options(EnsembleOptions{}), usual));
  CHECK(same(simulator_options(WhyOptions{}), usual));
  SimulatorOptions revived = simulator_options(ReviveOptions{});
  CHECK(revived.tolerance == revive_tolerance);
  revived.tolerance = usual.tolerance;
  CHECK(same(revived, usual));
}
