// Balances of random whole instruments (RapidCheck): panel to radio, one or two days of invented light at 20 degC.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "sim/engine/watchers.hpp"
#include "sim/service/service.hpp"
#include "tests/property/support/holds.hpp"
#include "tests/property/support/random_instrument.hpp"
#include "tests/property/support/sums.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

constexpr double solve_rounding = 1e-11;         // W, what a network solve may leave at a rail of 5 V behind 20 mohm
constexpr std::size_t most_happenings = 200000;  // a day has some 150 wakes of some 20; a reset loop more

/// Counts what widens a balance, and integrates the cell's self-discharge at its own temperature.
class Looker final : public RunWatcher {
 public:
  Looker(const DiagramPart& cell, const Netlist& n) : cell_(cell), netlist_(n) {}
  void on_step(Tick reached, const double* state, Evaluator&) override {
    // Doubling per 10 K: equation (6) of the cell; trapezoidal rule on a temperature that hardly moves.
    const double now = netlist_.capacity * netlist_.self_discharge * std::exp2((state[cell_.state + 3] - 298.15) / 10);
    if (before_ != never) {
      self_discharged += (now + rate_) / 2 * static_cast<double>(reached - before_) / ticks_per_second;
    }
    before_ = reached;
    rate_ = now;
    lowest_charge = std::min(lowest_charge, state[cell_.state] / netlist_.capacity);
  }
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (++happenings_ > most_happenings) throw SimulationError(iso_time(h.time, 9) + ": chatter");
    collapses += h.event ? 0 : 1;
  }
  void on_leap(const Leap& leap) override {
    ++leaps;
    unbalanced += leap.unbalanced;
  }

  double self_discharged = 0, lowest_charge = 1;  ///< A s; 0...1
  std::size_t collapses = 0, leaps = 0;
  double unbalanced = 0;  ///< J

 private:
  const DiagramPart& cell_;
  const Netlist& netlist_;
  std::size_t happenings_ = 0;
  Tick before_ = never;
  double rate_ = 0;
};

struct Worst {
  std::size_t runs = 0;
  double ledger = 0, independent = 0, gap = 0;
};

bool finite(const std::vector<double>& numbers) {
  return std::all_of(numbers.begin(), numbers.end(), [](double x) { return std::isfinite(x); });
}

/// Four kinds of weather, by their midday light in W/m2.
void write_weathers(const test::Scratch& scratch) {
  for (const int peak : {0, 100, 300, 900}) {
    scratch.write_weather(fmt::format("{}.epw", peak), [&](int hour) {
      return hour < 6 || hour > 18 ? 0.0 : std::floor(peak * std::sin((hour - 6) * pi / 12));
    });
  }
}

std::string any_weather(Dice& dice) { return fmt::format("{{file: {}.epw}}", dice.pick({0, 100, 300, 900})); }

}  // namespace

// Residuals are of the energy that went through the cell or came from the panel. The ledger's is rounding, but
// for what each network solve leaves (measured: 1.6e-12 W). The independent one is within 1e-8 (measured on 100: at
// most 6.8e-9); one in fifty may be further off. The charge's gap is the trapezoidal rule's on the self-discharge.
// Given up are depleted instruments whose protector has opened (3 of 100): with the cell cut off nothing stores charge
// at the pack, and what the panel's light switches on there switches it off again, more than a thousand times a second.
TEST_CASE("charge, energy and wakes balance in random instruments") {
  const test::Scratch scratch;
  write_weathers(scratch);
  std::size_t runs = 0, given_up = 0, loose = 0;
  Worst worst[2];
  const bool held = test::holds("instruments in balance", 100, 10, [&] {
    Dice dice = any_dice();
    Netlist netlist = plain_instrument(dice, dice.chance(0.25) ? dice.scale(1, 4) : dice.between(4, 98));
    netlist.weather = any_weather(dice);
    const test::Replayed bench(scratch.write("random.yaml", netlist.text()));
    const auto cell = std::find_if(bench.diagram.parts().begin(), bench.diagram.parts().end(),
                                   [](const DiagramPart& p) { return p.name == "cell"; });
    Looker looker(*cell, netlist);
    Service service(bench.diagram, bench.weather.begin(), bench.weather.end(), SunnyDays(bench.weather), 3);
    Watchers watchers({&looker, &service});
    Simulator simulator(bench.diagram, bench.weather, {}, &watchers);
    Context c = simulator.start();
    Evaluator& system = simulator.at(c);
    looker.on_step(c.now, c.state.data(), system);
    const double charge = c.state[cell->state], stored = system.stored_energy();
    ++runs;
    try {
      simulator.advance(c, bench.weather.end());
    } catch (const SimulationError& error) {
      MESSAGE(std::string(error.what()));
      ++given_up;
      return;
    }

    RC_ASSERT(finite(c.state));
    RC_ASSERT(finite(c.network));
    const Sums s = sums_of(bench.diagram, c);
    const double ledger = std::abs(s.balance - s.stored) / s.moved;
    const double independent =
        std::abs(s.balance - (simulator.at(c).stored_energy() - stored) - looker.unbalanced) / s.moved;
    const double gap = std::abs(s.in - s.out - looker.self_discharged - (c.state[cell->state] - charge));
    const double span = static_cast<double>(bench.weather.end() - bench.weather.begin()) / ticks_per_second;
    const bool plain = looker.collapses + looker.leaps == 0;
    Worst& w = worst[plain ? 0 : 1];
    w = {w.runs + 1, std::max(w.ledger, ledger), std::max(w.independent, independent),
         std::max(w.gap, gap / (s.in + s.out + looker.self_discharged))};
    RC_ASSERT(ledger <= 1e-9 + solve_rounding * span / s.moved);
    RC_ASSERT(independent <= 1e-7);
    if (independent > 1e-8) ++loose;
    // Below empty self-discharge ends, which the looker does not follow.
    if (looker.lowest_charge >= 0) RC_ASSERT(gap <= 1e-6 * (s.in + s.out) + 1e-4 * looker.self_discharged);
    const ServiceRecord record = service.finish();
    RC_ASSERT(record.due >= record.wakes);
    RC_ASSERT(record.wakes >= record.completed);
  });
  for (const Worst& w : worst) {
    MESSAGE(fmt::format("{} runs {} leap or collapse: ledger {:.1e}, independent {:.1e}, charge {:.1e}", w.runs,
                        &w == worst ? "without" : "with", w.ledger, w.independent, w.gap));
  }
  MESSAGE(fmt::format("of {} runs {} beyond 1e-8, {} could not be completed", runs, loose, given_up));
  CHECK(held);
  CHECK(one_of(50, runs, loose));
  CHECK(one_of(25, runs, given_up));
}

TEST_CASE("the order in which a random instrument is written changes no bit of its state") {
  const test::Scratch scratch;
  write_weathers(scratch);
  const bool held = test::holds("instruments in another order", 100, 10, [&] {
    Dice dice = any_dice();
    Netlist netlist = plain_instrument(dice, dice.between(4, 98));
    netlist.weather = any_weather(dice);
    std::mt19937 random(dice.seed());
    Context end[2];
    for (Context& c : end) {
      const test::Replayed bench(scratch.write("random.yaml", netlist.text()));
      Simulator simulator(bench.diagram, bench.weather, {});
      c = simulator.start();
      simulator.advance(c, bench.weather.begin() + 8 * 3600 * ticks_per_second);
      netlist.shuffle(random);
    }
    RC_ASSERT(end[0].state == end[1].state);
    RC_ASSERT(end[0].network == end[1].network);
    RC_ASSERT(end[0].memory == end[1].memory);
    RC_ASSERT(end[0].alarm == end[1].alarm);
  });
  CHECK(held);
}
