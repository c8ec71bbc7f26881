// tests/acceptance/data/transients.yaml with other values, brought to a moment.
#pragma once

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "sim/engine/transient.hpp"
#include "tests/support/bench_scenario.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

namespace overwinter::test {

inline Replayed transient_bench(Edits edits) {
  const std::string source = OVERWINTER_SOURCE;
  std::ifstream file(source + "/tests/acceptance/data/transients.yaml", std::ios::binary);
  edits.emplace_back("{file: peat-bog.epw}", "{file: " + source + "/scenarios/peat-bog.epw}");
  const Scratch scratch;
  return Replayed(
      scratch.write("transients.yaml", edited(edits, std::string{std::istreambuf_iterator<char>(file), {}})));
}

/// What happens, as "part, event": when it first did, and all of it in order.
class FirstTimes final : public RunWatcher {
 public:
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    times.insert({h.part_name() + ", " + h.event_name(), h.time});
    all.push_back({h.part_name() + ", " + h.event_name(), h.time});
  }
  std::map<std::string, Tick> times;
  std::vector<std::pair<std::string, Tick>> all;
};

/// The settled run, `before` the n-th time (from 1) that this happens in it.
inline Context settled_before(const Replayed& bench, const std::string& what, int n, Tick before) {
  Tick at = never;
  {
    FirstTimes events;
    Simulator run(bench.diagram, bench.weather, {}, &events);
    Context c = run.start();
    while (at == never) {
      REQUIRE(c.now < bench.weather.end());
      run.advance_segment(c, bench.weather.end());
      int seen = 0;
      for (const auto& [name, time] : events.all) {
        if (name == what && ++seen == n) at = time;
      }
    }
  }
  Simulator run(bench.diagram, bench.weather, {});
  Context c = run.start();
  run.advance(c, at - before);
  return c;
}

}  // namespace overwinter::test
