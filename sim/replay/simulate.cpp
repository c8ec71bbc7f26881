#include "sim/replay/simulate.hpp"

#include <algorithm>

#include "sim/engine/watchers.hpp"
#include "sim/mechanisms/mechanism_log.hpp"
#include "sim/replay/run_progress.hpp"
#include "sim/replay/summary.hpp"
#include "sim/stop.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

/// Whether any part can complete a wake.
bool wakes(const Diagram& diagram) {
  return std::any_of(diagram.parts().begin(), diagram.parts().end(),
                     [](const DiagramPart& part) { return has_event(*part.table, EventRole::wake_completed); });
}

}  // namespace

RunResult simulate(const Scenario& scenario, const Weather& weather, const Diagram& diagram, const RunOptions& options,
                   const std::vector<RunWatcher*>& others) {
  ExtremesLog extremes(diagram);
  SummaryWriter summary(scenario, diagram, weather, extremes);
  const SunnyDays sky(weather);
  Service service(diagram, weather.begin(), weather.end(), sky, scenario.sunny_days);
  StoryLog stories(scenario, diagram, service, weather.begin());
  MarginLog margins(diagram, service);
  DamageLog damage(diagram);
  HiccupLog hiccups(diagram);
  RefusedLight refused(diagram, weather.begin());
  RunProgress progress(options, weather);
  Watchers listeners(others);
  MechanismLog mechanisms(scenario, diagram, weather, &listeners);
  std::vector<RunWatcher*> all = {&extremes, &service, &stories, &margins, &damage, &hiccups, &refused};
  all.insert(all.end(), others.begin(), others.end());
  all.push_back(&mechanisms);
  all.push_back(&progress);
  Watchers watchers(std::move(all));

  SimulatorOptions engine = simulator_options(options, options.every);
  TimeLimit limit(options.limit);
  engine.look = [&] {
    if (options.look) options.look();
    limit.look();
  };
  Simulator simulator(diagram, weather, engine, &watchers);
  Context context = simulator.start();
  Evaluator& system = simulator.at(context);
  watchers.on_step(context.now, context.state.data(), system);
  watchers.on_sample(context.now, context.state.data(), system);
  summary.begin(context, system);
  RunResult result;
  try {
    simulator.advance(context, weather.end());
  } catch (const Stopped& stopped) {
    if (stopped.signal != 0) throw;
    simulator.resolve(context);
    result.cut_short = context.now;
    service.end_at(context.now);
  }

  const ServiceRecord record = service.finish();
  if (wakes(diagram)) result.service = record;
  ServiceRecord* const told = result.service ? &*result.service : nullptr;
  mechanisms.finish(context, simulator.at(context), told);
  result.stories = stories.finish(record, sky, scenario.from);
  result.summary = summary.finish(context, simulator, told, result.stories, sky, refused, margins, hiccups, mechanisms,
                                  damage, result.cut_short);
  if (result.cut_short) {
    Json cut = cut_short_json({}, options.limit);
    cut["reached"] = iso_time(*result.cut_short);
    cut["share"] =
        static_cast<double>(*result.cut_short - weather.begin()) / static_cast<double>(weather.end() - weather.begin());
    result.summary["cut_short"] = std::move(cut);
  }
  const auto& survives = result.summary.at("verdict").at("survives");
  result.survives = survives.is_null() ? Held::undecided : survives.get<bool>() ? Held::yes : Held::no;
  return result;
}

}  // namespace overwinter
