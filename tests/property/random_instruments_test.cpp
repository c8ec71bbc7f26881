// Whatever people wire of stock classes, as a run has it: read without complaint, brought to its end in bounded work,
// with closed books.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <string>
#include <vector>

#include "sim/engine/engine_options.hpp"
#include "sim/engine/watchers.hpp"
#include "sim/input_error.hpp"
#include "tests/property/support/random_instrument.hpp"
#include "tests/property/support/sums.hpp"
#include "tests/support/lengths.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

// A step takes some 30 us, a closer look a hundred times that: about 10 s of processor time (measured 2026-11-30).
constexpr std::size_t most_work = 300000, work_of_a_look = 100;
constexpr double solve_rounding = 1e-11;  // W, what a network solve may leave at a rail of 5 V behind 20 mohm

struct TooMuch {};

class Work final : public RunWatcher {
 public:
  void on_step(Tick, const double*, Evaluator&) override { add(1); }
  void on_closer_look(Tick, Tick, bool) override { add(work_of_a_look); }
  void on_leap(const Leap& leap) override { unbalanced += leap.unbalanced; }

  double unbalanced = 0;  ///< J

 private:
  void add(std::size_t work) {
    done_ += work;
    if (done_ > most_work) throw TooMuch{};
  }
  std::size_t done_ = 0;
};

struct End {
  bool refused = false, finished = false;
  double ledger = 0, independent = 0;  ///< of the energy that moved
  std::string why;
};

End end_of(const Scratch& scratch, std::uint64_t number) {
  End end;
  const std::string path = scratch.write("random.yaml", random_instrument(number, OVERWINTER_SOURCE).text());
  try {
    const Replayed bench(path);
    Work work;
    Simulator simulator(bench.diagram, bench.weather, simulator_options(EngineOptions{}), &work);
    Context c = simulator.start();
    const double stored = simulator.at(c).stored_energy();
    simulator.advance(c, bench.weather.end());
    end.finished = true;
    const Sums s = sums_of(bench.diagram, c);
    const double span = static_cast<double>(bench.weather.end() - bench.weather.begin()) / ticks_per_second;
    end.ledger = std::max(0.0, std::abs(s.balance - s.stored) - solve_rounding * span) / s.moved;
    end.independent = std::abs(s.balance - (simulator.at(c).stored_energy() - stored) - work.unbalanced) / s.moved;
  } catch (const TooMuch&) {
    end.why = "too much work";
  } catch (const SimulationError& error) {
    end.why = error.what();
  } catch (const InputError& error) {
    end.refused = true;
    end.why = error.what();
  }
  return end;
}

}  // namespace

TEST_CASE("random instruments of stock classes come to their end with closed books") {
  const Scratch scratch;
  const std::vector<std::size_t> numbers = drawn("random instruments", 500, 20, 20261130);
  std::size_t refused = 0, unfinished = 0, loose = 0;
  for (const std::size_t number : numbers) {
    CAPTURE(number);
    const End end = end_of(scratch, number);
    if (end.refused) ++refused;
    if (end.finished) {
      CHECK(end.ledger <= 1e-9);
      CHECK(end.independent <= 1e-7);
      if (end.independent > 1e-8) ++loose;
    } else {
      MESSAGE(fmt::format("{}: {}", number, end.why));
      if (!end.refused) ++unfinished;
    }
  }
  MESSAGE(fmt::format("of {} refused {}, not finished {}, audited beyond 1e-8 {}", numbers.size(), refused, unfinished,
                      loose));
  CHECK(refused * 100 <= std::max<std::size_t>(numbers.size(), 100));
  CHECK(unfinished * 20 <= std::max<std::size_t>(numbers.size(), 20));
  CHECK(loose * 20 <= std::max<std::size_t>(numbers.size(), 20));
}

TEST_CASE("a number always makes the same random instrument") {
  const std::string one = random_instrument(7, "x").text();
  CHECK(one == random_instrument(7, "x").text());
  CHECK(one != random_instrument(8, "x").text());
}
