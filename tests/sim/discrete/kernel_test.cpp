// The kernel is one per process and other tests use it too: activations are counted from where they stand.
#include "sim/discrete/kernel.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

using namespace overwinter;

namespace {

using Slots = std::vector<std::size_t>;

/// Some run's address. Takes the kernel over and gives it back.
struct Run {
  explicit Run(Tick now) { kernel.bind(this, now); }
  Run(const Run&) = delete;
  ~Run() { kernel.release(this); }
  DiscreteKernel& kernel = DiscreteKernel::instance();
};

constexpr Tick noon = 1'731'000'000 * ticks_per_second + 17;

}  // namespace

TEST_CASE("kernel: one per process") { CHECK(&DiscreteKernel::instance() == &DiscreteKernel::instance()); }

TEST_CASE("kernel: alarms come due on their tick, neither before nor again") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  CHECK(kernel.next() == never);
  kernel.set_alarm(4, noon + 1000);
  CHECK(kernel.next() == noon + 1000);
  CHECK(kernel.run_to(noon + 999).empty());
  CHECK(kernel.next() == noon + 1000);
  CHECK(kernel.run_to(noon + 1000) == Slots{4});
  CHECK(kernel.next() == never);
  CHECK(kernel.run_to(noon + 1000).empty());
  CHECK(kernel.run_to(noon + 5000).empty());
}

TEST_CASE("kernel: the next alarm is the earliest one, and what is due at once comes in slot order") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  kernel.set_alarm(9, noon + 20);
  kernel.set_alarm(7, noon + 10);
  kernel.set_alarm(3, noon + 20);
  kernel.set_alarm(250, noon + 20);
  kernel.set_alarm(5, noon + 30);
  CHECK(kernel.next() == noon + 10);
  CHECK(kernel.run_to(noon + 10) == Slots{7});
  CHECK(kernel.next() == noon + 20);
  CHECK(kernel.run_to(noon + 20) == Slots{3, 9, 250});
  CHECK(kernel.next() == noon + 30);
  kernel.set_alarm(1, noon + 40);
  CHECK(kernel.run_to(noon + 100) == Slots{1, 5});
}

TEST_CASE("kernel: ticks stay exact where a double would round them") {
  constexpr Tick beyond = (Tick{1} << 53) + 1;  // no double holds it
  Run run(beyond);
  DiscreteKernel& kernel = run.kernel;
  kernel.set_alarm(0, beyond + beyond);
  kernel.set_alarm(1, beyond + beyond + 1);
  CHECK(kernel.next() == 2 * beyond);
  CHECK(kernel.run_to(2 * beyond - 1).empty());
  CHECK(kernel.run_to(2 * beyond) == Slots{0});
  CHECK(kernel.next() == 2 * beyond + 1);
  CHECK(kernel.run_to(2 * beyond + 1) == Slots{1});
}

TEST_CASE("kernel: another run takes over with its own time, later or earlier, and finds no alarms") {
  Run first(noon);
  DiscreteKernel& kernel = first.kernel;
  kernel.set_alarm(0, noon + 100);
  kernel.set_alarm(1, noon + 50);
  kernel.run_to(noon + 50);
  for (const Tick begin : {noon + 3600 * ticks_per_second, noon - 3600 * ticks_per_second, Tick{0}, Tick{-5}}) {
    CAPTURE(begin);
    Run second(begin);
    CHECK(kernel.bound_to(&second));
    CHECK_FALSE(kernel.bound_to(&first));
    CHECK(kernel.next() == never);
    CHECK(kernel.run_to(begin + 200).empty());
    kernel.set_alarm(1, begin + 300);
    CHECK(kernel.next() == begin + 300);
    CHECK(kernel.run_to(begin + 299).empty());
    CHECK(kernel.run_to(begin + 300) == Slots{1});
    kernel.set_alarm(2, begin + 400);
  }
}

TEST_CASE("kernel: the same run may go back in time by binding again") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  kernel.set_alarm(0, noon + 100);
  CHECK(kernel.run_to(noon + 100) == Slots{0});
  kernel.bind(&run, noon);
  kernel.set_alarm(0, noon + 100);
  CHECK(kernel.next() == noon + 100);
  CHECK(kernel.run_to(noon + 99).empty());
  CHECK(kernel.run_to(noon + 100) == Slots{0});
}

TEST_CASE("kernel: only its owner lets it go") {
  Run run(noon);
  const int stranger = 0;
  run.kernel.release(&stranger);
  CHECK(run.kernel.bound_to(&run));
  run.kernel.release(&run);
  CHECK_FALSE(run.kernel.bound_to(&run));
}

TEST_CASE("kernel: an alarm is taken back with never, and moved by laying it anew") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  const std::size_t before = kernel.activations();
  kernel.set_alarm(0, noon + 10);
  kernel.set_alarm(0, never);
  CHECK(kernel.next() == never);
  kernel.set_alarm(1, never);
  CHECK(kernel.run_to(noon + 20).empty());
  CHECK(kernel.activations() == before);

  kernel.set_alarm(2, noon + 100);
  kernel.set_alarm(2, noon + 60);
  CHECK(kernel.next() == noon + 60);
  kernel.set_alarm(2, noon + 200);
  CHECK(kernel.next() == noon + 200);
  CHECK(kernel.run_to(noon + 199).empty());
  CHECK(kernel.run_to(noon + 200) == Slots{2});
  CHECK(kernel.activations() == before + 1);
}

TEST_CASE("kernel: one activation per alarm, however the time is cut into pieces") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  const std::size_t before = kernel.activations();
  std::size_t due = 0;
  for (int alarm = 0; alarm < 100; ++alarm) {
    const Tick now = noon + alarm * 600 * ticks_per_second;
    kernel.set_alarm(static_cast<std::size_t>(alarm) % 3, now + 600 * ticks_per_second);
    for (int piece = 1; piece <= 4; ++piece) due += kernel.run_to(now + piece * 150 * ticks_per_second).size();
  }
  CHECK(due == 100);
  CHECK(kernel.activations() == before + 100);
}

TEST_CASE("kernel: an alarm in the past, or of this very tick, comes due at once") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  kernel.run_to(noon + 1000);
  const std::size_t before = kernel.activations();
  for (const Tick when : {Tick{0}, noon, noon + 999, noon + 1000}) {
    CAPTURE(when);
    kernel.set_alarm(6, when);
    CHECK(kernel.next() == noon + 1000);
    CHECK(kernel.run_to(noon + 1000) == Slots{6});
    CHECK(kernel.next() == never);
    CHECK(kernel.run_to(noon + 1000).empty());
  }
  CHECK(kernel.activations() == before + 4);
}

TEST_CASE("kernel: an alarm in the past can still be taken back, and does not outlive its run") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  kernel.set_alarm(6, noon - 1);
  kernel.set_alarm(6, never);
  CHECK(kernel.next() == never);
  CHECK(kernel.run_to(noon + 1).empty());
  kernel.set_alarm(6, noon - 1);
  kernel.bind(&run, noon);
  CHECK(kernel.next() == never);
  CHECK(kernel.run_to(noon + 1).empty());
}

TEST_CASE("kernel: more alarms than shells are refused") {
  Run run(noon);
  DiscreteKernel& kernel = run.kernel;
  kernel.set_alarm(DiscreteKernel::slots - 1, noon + 1);
  CHECK(kernel.run_to(noon + 1) == Slots{DiscreteKernel::slots - 1});
  CHECK_THROWS_AS(kernel.set_alarm(DiscreteKernel::slots, noon + 2), std::length_error);
  CHECK_THROWS_AS(kernel.set_alarm(DiscreteKernel::slots, never), std::length_error);
  CHECK(kernel.next() == never);
}

TEST_CASE("kernel: it tells how much of its time is used up") {
  Run run(noon);
  const double before = run.kernel.years();
  run.kernel.run_to(noon + 365 * ticks_per_day + ticks_per_day / 4);
  CHECK(run.kernel.years() == doctest::Approx(before + 1));
}
