#include "sim/replay/replay.hpp"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>

#include "sim/engine/watchers.hpp"
#include "sim/replay/recorder.hpp"
#include "sim/replay/run_folder.hpp"
#include "sim/replay/series.hpp"
#include "sim/replay/summary.hpp"
#include "sim/weather/csv.hpp"
#include "sim/weather/epw.hpp"

namespace overwinter {

namespace {

bool begins_as_epw(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string line;
  std::getline(file, line);
  return is_epw(line);
}

}  // namespace

Weather weather_of(const Scenario& scenario, const std::optional<std::string>& weather_file) {
  const std::string& path = weather_file ? *weather_file : scenario.weather_file;
  if (scenario.csv && !(weather_file && begins_as_epw(path))) {
    return Weather(read_csv(path, *scenario.csv, *scenario.site, scenario.from, scenario.to), *scenario.site,
                   scenario.from, scenario.to);
  }
  StationYear station = read_epw(path);
  const Site site = weather_file || !scenario.site ? station.site : *scenario.site;
  return Weather(std::move(station), site, scenario.from, scenario.to);
}

namespace {

/// Whether any part can complete a wake.
bool wakes(const Diagram& diagram) {
  return std::any_of(diagram.parts().begin(), diagram.parts().end(),
                     [](const DiagramPart& part) { return has_event(*part.table, EventRole::wake_completed); });
}

class Progress final : public RunWatcher {
 public:
  Progress(const ReplayOptions& options, const Weather& weather) : options_(options), weather_(weather) {}
  void on_step(Tick reached, const double*, Evaluator&) override {
    if (!options_.progress) return;
    options_.progress(reached, static_cast<double>(reached - weather_.begin()) /
                                   static_cast<double>(weather_.end() - weather_.begin()));
  }

 private:
  const ReplayOptions& options_;
  const Weather& weather_;
};

void write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  file.flush();
  if (!file)
    throw std::runtime_error(path.filename().string() + " could not be written completely (is the disk full?)");
}

}  // namespace

ReplayResult replay(const std::string& scenario_path, const ReplayOptions& options) {
  const auto started = std::chrono::steady_clock::now();
  const Scenario scenario = read_scenario(scenario_path);
  const Weather weather = weather_of(scenario, options.weather);
  const Diagram diagram(scenario);
  RunFolder folder(options.out.empty() ? std::filesystem::path("out") / std::filesystem::path(scenario_path).stem()
                                       : std::filesystem::path(options.out));
  Recorder recorder(diagram, weather, folder.file("trace.csv"), folder.file("events.csv"));
  SummaryWriter summary(scenario, diagram, weather, recorder);

  const SunnyDays sky(weather);
  Service service(diagram, weather.begin(), weather.end(), sky, scenario.sunny_days);
  MarginLog margins(diagram);
  HiccupLog hiccups(diagram);
  RefusedLight refused(diagram, weather.begin());
  SeriesCollector series(diagram, weather, summary.cell());
  Progress progress(options, weather);
  Watchers watchers({&recorder, &service, &margins, &hiccups, &refused, &series, &progress});

  SimulatorOptions engine;
  engine.stepping = options.stepping;
  engine.elimination = options.elimination;
  engine.tolerance = options.tolerance;
  engine.sample_every = options.every;
  engine.step_over_hiccups = !options.every_start;
  Simulator simulator(diagram, weather, engine, &watchers);
  Context context = simulator.start();
  Evaluator& system = simulator.at(context);
  watchers.on_step(context.now, context.state.data(), system);
  watchers.on_sample(context.now, context.state.data(), system);
  summary.begin(context, system);
  simulator.advance(context, weather.end());
  recorder.finish();

  ReplayResult result;
  const ServiceRecord record = service.finish();
  result.summary =
      summary.finish(context, simulator, wakes(diagram) ? &record : nullptr, sky, refused, margins, hiccups);
  if (const auto verdict = result.summary.find("verdict"); verdict != result.summary.end()) {
    const auto& survives = verdict->at("survives");
    result.survives = survives.is_null() ? Held::undecided : survives.get<bool>() ? Held::yes : Held::no;
  }
  const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
  result.summary["engine"]["wall_s"] = wall.count();
  write(folder.file("summary.json"), result.summary.dump(2) + "\n");
  write(folder.file("report.html"), report_html(result.summary, series.finish(wakes(diagram) ? &record : nullptr)));
  folder.publish();
  result.folder = options.out.empty() ? "out/" + std::filesystem::path(scenario_path).stem().string() : options.out;
  return result;
}

}  // namespace overwinter
