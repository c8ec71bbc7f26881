// A reset loop of the shipped instrument, hour-long: stepping over its failed starts against simulating every one.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/engine/watchers.hpp"
#include "sim/service/hiccup_log.hpp"
#include "sim/service/service.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double capacity = 3.0 * 3600;  // A s

struct Loop {
  double charge = 0, balance = 0, stored = 0, throughput = 0, unbalanced = 0;
  std::size_t attempts = 0, brownouts = 0, leaps = 0, happenings = 0, fallbacks = 0;
};

/// The first design on a sunny day after it has died: at dawn the charger releases the protector again and again.
Loop replayed(bool every_start, Tick length, double full) {
  test::Replayed bench("scenarios/peat-bog.yaml", {2024, 12, 29}, {2024, 12, 30});
  const Tick end = bench.weather.begin() + length;
  Service service(bench.diagram, bench.weather.begin(), bench.weather.end(), SunnyDays(bench.weather), 3);
  HiccupLog log(bench.diagram);
  Watchers watchers({&service, &log});
  SimulatorOptions options;
  options.step_over_hiccups = !every_start;
  Simulator simulator(bench.diagram, bench.weather, options, &watchers);
  Context c = simulator.start();
  const auto cell = std::find_if(bench.diagram.parts().begin(), bench.diagram.parts().end(),
                                 [](const DiagramPart& p) { return p.name == "cell"; });
  c.state[cell->state] = full * capacity;
  const double stored = simulator.at(c).stored_energy();
  simulator.advance(c, end);
  Loop loop;
  loop.charge = c.state[cell->state] / capacity;
  for (const DiagramPart& part : bench.diagram.parts()) {
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      const double joules = c.state[bench.diagram.states() + part.flow + f];
      const FlowKind kind = part.table->flows[f].kind;
      if (kind == FlowKind::source) loop.balance += joules;
      if (kind == FlowKind::delivered || kind == FlowKind::lost) loop.balance -= joules;
      if (kind == FlowKind::throughput) loop.throughput += joules;
    }
  }
  loop.stored = simulator.at(c).stored_energy() - stored;
  loop.unbalanced = log.unbalanced();
  loop.leaps = simulator.steps().leaps;
  loop.happenings = simulator.steps().happenings;
  loop.fallbacks = simulator.solves().fallbacks;
  const ServiceRecord record = service.finish();
  loop.brownouts = record.brownouts.size();
  for (const BrownOut& b : record.brownouts) loop.attempts += b.attempts;
  return loop;
}

}  // namespace

TEST_CASE("a reset loop that is stepped over ends where every single start ends") {
  const Loop every = replayed(true, 14 * hour, 0.0525), leapt = replayed(false, 14 * hour, 0.0525);
  MESSAGE(
      fmt::format("every start: charge {:.3f} %, {} attempts, {} events; stepped over {} times: {:.3f} %, {}, {}, "
                  "unbalanced by {:.2e} of the throughput",
                  100 * every.charge, every.attempts, every.happenings, leapt.leaps, 100 * leapt.charge, leapt.attempts,
                  leapt.happenings, leapt.unbalanced / leapt.throughput));
  CHECK(every.leaps == 0);
  CHECK(leapt.leaps > 0);
  CHECK(every.attempts > 300);
  CHECK(leapt.happenings * 3 < every.happenings * 2);
  CHECK(every.brownouts == leapt.brownouts);
  CHECK(std::abs(leapt.charge - every.charge) < 2e-4);
  const auto attempts = static_cast<double>(every.attempts);
  CHECK(std::abs(static_cast<double>(leapt.attempts) - attempts) < 0.05 * attempts);
  for (const Loop& loop : {every, leapt}) {
    CHECK(std::abs(loop.balance - loop.stored - loop.unbalanced) <= 1e-7 * loop.throughput);
  }
  CHECK(every.unbalanced == 0);
  CHECK(std::abs(leapt.unbalanced) < 1e-2 * leapt.throughput);
}

// The same day from an emptier cell: by the hour another mixture of three kinds of cycle, slow ones around fast ones.
// Every single start takes minutes to simulate; what that gives stands here (run --every-start, 2026-11-25).
TEST_CASE("a day of fifty thousand attempts of mixed kinds is stepped over") {
  const Loop leapt = replayed(false, 24 * hour, 0.009);
  MESSAGE(fmt::format("stepped over {} times: charge {:.4f} %, {} attempts, {} events simulated", leapt.leaps,
                      100 * leapt.charge, leapt.attempts, leapt.happenings));
  CHECK(leapt.leaps > 10);
  CHECK(leapt.brownouts == 1);
  CHECK(leapt.fallbacks * 20 < leapt.happenings);  // where the network fell once, it falls again without the detour
  CHECK(std::abs(static_cast<double>(leapt.attempts) - 49759) < 0.05 * 49759);
  CHECK(std::abs(leapt.charge * capacity - 97.87) < 1);  // A s
  CHECK(std::abs(leapt.balance - leapt.stored - leapt.unbalanced) <= 1e-7 * leapt.throughput);
  CHECK(std::abs(leapt.unbalanced) < 1e-2 * leapt.throughput);
}
