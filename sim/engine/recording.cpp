#include "sim/engine/recording.hpp"

namespace overwinter {

void Recording::keep(Kind kind, Tick time, const Happening& happening, Evaluator& system) {
  const Diagram& d = system.diagram();
  const Evaluator::Solved now = system.solved();
  entries_.push_back({kind,
                      time,
                      happening,
                      {now.state, now.state + d.states() + d.integrals()},
                      {now.drive, now.drive + d.drives()},
                      {now.network, now.network + d.unknowns()},
                      {now.memory, now.memory + d.memories()}});
}

void Recording::on_step(Tick t, const double*, Evaluator& system) { keep(Kind::step, t, {}, system); }

void Recording::on_sample(Tick t, const double*, Evaluator& system) { keep(Kind::sample, t, {}, system); }

void Recording::on_happening(const Happening& h, const double*, Evaluator& system) {
  keep(Kind::happening, h.time, h, system);
}

void Recording::tell(Simulator& run, std::size_t period, RunWatcher& watcher) const {
  Context c;
  c.period = period;
  for (const Entry& e : entries_) {
    c.state = e.state;
    c.drive = e.drive;
    c.network = e.network;
    c.memory = e.memory;
    Evaluator& system = run.at(c);
    switch (e.kind) {
      case Kind::step:
        watcher.on_step(e.time, c.state.data(), system);
        break;
      case Kind::sample:
        watcher.on_sample(e.time, c.state.data(), system);
        break;
      case Kind::happening:
        watcher.on_happening(e.happening, c.state.data(), system);
        break;
    }
  }
}

}  // namespace overwinter
