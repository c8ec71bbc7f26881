#include "sim/why/trial.hpp"

#include <algorithm>

#include "sim/engine/simulator.hpp"
#include "sim/engine/watchers.hpp"
#include "sim/replay/simulate.hpp"

namespace overwinter {

namespace {

struct Enough {};

/// Ends the run where more than so many brown-outs have begun.
class StopBeyond final : public RunWatcher {
 public:
  StopBeyond(const Service& service, std::size_t most) : service_(service), most_(most) {}
  void on_step(Tick, const double*, Evaluator&) override { look(); }
  void on_happening(const Happening&, const double*, Evaluator&) override { look(); }

 private:
  void look() const {
    if (service_.controller_told() && service_.brownouts().size() > most_) throw Enough{};
  }
  const Service& service_;
  const std::size_t most_;
};

}  // namespace

Tick avoided_until(const ServiceRecord& record, std::size_t n, const SunnyDays& sky, Tick begin, Tick end) {
  const auto light_is_back = [&](Tick after) {
    for (auto day = static_cast<std::size_t>((after - begin) / ticks_per_day) + 1; day < sky.sunny.size(); ++day) {
      if (sky.sunny[day]) return std::min(end, begin + static_cast<Tick>(day + 1) * ticks_per_day);
    }
    return end;
  };
  Tick until = light_is_back(record.brownouts[n].end);
  while (++n < record.brownouts.size() && record.brownouts[n].begin <= until) {
    until = light_is_back(record.brownouts[n].end);
  }
  return until;
}

std::optional<Trial> replay_until(const Scenario& scenario, const Weather& weather, const EngineOptions& engine,
                                  Tick until, std::size_t most) {
  const Diagram diagram(scenario);
  Service service(diagram, weather.begin(), weather.end(), SunnyDays(weather), scenario.sunny_days);
  StopBeyond limit(service, most);
  Watchers watchers({&service, &limit});
  Simulator simulator(diagram, weather, simulator_options(engine, RunOptions{}.every), &watchers);
  bool ended = false;
  try {
    Context context = simulator.start();
    watchers.on_step(context.now, context.state.data(), simulator.at(context));
    simulator.advance(context, until);
    ended = until == weather.end();
  } catch (const Enough&) {
  } catch (const SimulationError&) {
    return std::nullopt;
  }
  Trial trial;
  for (const BrownOut& b : ended ? service.finish().brownouts : service.brownouts()) {
    if (b.begin > until) continue;
    ++trial.brownouts;
    trial.last = b.begin;
  }
  return trial;
}

}  // namespace overwinter
