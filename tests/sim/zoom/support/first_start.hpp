// The first switch-on of tests/acceptance/data/transients.yaml.
#pragma once

#include "sim/zoom/waveform_recorder.hpp"
#include "tests/acceptance/support/transient_bench.hpp"

namespace overwinter::test {

struct FirstStart {
  Replayed bench = transient_bench({});
  Tick alarm = 0;

  FirstStart() {
    FirstTimes events;
    Simulator run(bench.diagram, bench.weather, {}, &events);
    Context c = run.start();
    while (events.times.count("clock, alarm") == 0) run.advance_segment(c, bench.weather.end());
    alarm = events.times.at("clock, alarm");
  }
  /// From 100 us before it on.
  Waveforms recorded(Tick length, std::size_t most_rows = 50'000) const {
    Simulator settled(bench.diagram, bench.weather, {});
    Context c = settled.start();
    settled.advance(c, alarm - 100'000);
    WaveformRecorder recorder(bench.scenario, bench.diagram, most_rows, {});
    Simulator transient(bench.diagram, bench.weather, transient_options({}), &recorder);
    c = enter_transient(settled, transient, c);
    recorder.on_step(c.now, c.state.data(), transient.at(c));
    transient.advance(c, c.now + length);
    return recorder.finish();
  }
};

}  // namespace overwinter::test
