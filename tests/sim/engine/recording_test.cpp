#include "sim/engine/recording.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "sim/engine/watchers.hpp"
#include "tests/sim/zoom/support/first_start.hpp"

using namespace overwinter;

namespace {

/// Writes down everything that it is told, with every output of every part.
class Scribe final : public RunWatcher {
 public:
  void on_step(Tick t, const double* state, Evaluator& system) override { note("step", t, state, system); }
  void on_sample(Tick t, const double* state, Evaluator& system) override { note("sample", t, state, system); }
  void on_happening(const Happening& h, const double* state, Evaluator& system) override {
    note(h.part_name() + h.event_name() + h.what, h.time, state, system);
  }
  std::vector<std::string> names;
  std::vector<double> numbers;

 private:
  void note(const std::string& name, Tick t, const double* state, Evaluator& system) {
    const Diagram& d = system.diagram();
    names.push_back(name);
    numbers.push_back(static_cast<double>(t));
    numbers.insert(numbers.end(), state, state + d.states() + d.integrals());
    for (std::size_t n = 0; n < d.nets().size(); ++n) numbers.push_back(system.net_voltage(n));
    for (std::size_t p = 0; p < d.parts().size(); ++p) {
      for (const Output& o : d.parts()[p].table->outputs) numbers.push_back(o.value(system.model(p), system.view(p)));
    }
  }
};

}  // namespace

TEST_CASE("recording: what is told later is what would have been told at once, to the bit") {
  const test::FirstStart start;
  Simulator settled(start.bench.diagram, start.bench.weather, {});
  Context c = settled.start();
  settled.advance(c, start.alarm - 100'000);
  Scribe at_once, later;
  Recording recording;
  Watchers both({&at_once, &recording});
  SimulatorOptions options = transient_options({});
  options.sample_every = 500'000;
  Simulator transient(start.bench.diagram, start.bench.weather, options, &both);
  c = enter_transient(settled, transient, c);
  transient.advance(c, c.now + 5'000'000);
  REQUIRE(at_once.names.size() > 40);
  CHECK(std::count(at_once.names.begin(), at_once.names.end(), "sample") >= 9);
  CHECK(std::count(at_once.names.begin(), at_once.names.end(), "clockalarm") == 1);
  recording.tell(transient, c.period, later);
  CHECK(later.names == at_once.names);
  CHECK(later.numbers == at_once.numbers);
  recording.clear();
  recording.tell(transient, c.period, later);
  CHECK(later.names.size() == at_once.names.size());
}
