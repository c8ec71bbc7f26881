#include "sim/replay/replay.hpp"

#include <chrono>
#include <filesystem>

#include "sim/replay/recorder.hpp"
#include "sim/replay/run_folder.hpp"
#include "sim/replay/series.hpp"
#include "sim/replay/summary.hpp"
#include "sim/stop.hpp"

namespace overwinter {

ReplayResult replay(const Scenario& written, const ReplayOptions& options) {
  const auto started = std::chrono::steady_clock::now();
  const DaySpan span = span_in(written, options.year);
  Scenario scenario = written;
  scenario.from = span.from;
  scenario.to = span.to;
  const Weather weather = WeatherInput(scenario, options.weather, {span}).over(span, options.seed);
  const Diagram diagram(scenario);
  ReplayResult result;
  result.folder = options.out.empty() ? default_folder(scenario, "") : options.out;
  RunFolder folder(result.folder, options.limit ? Kept::partly : Kept::whole);
  Recorder recorder(diagram, weather, folder.file("trace.csv"), folder.file("events.csv"));
  SeriesCollector series(diagram, weather, cell_of(diagram));
  RunResult run = simulate(scenario, weather, diagram, options, {&recorder, &series});
  if (run.cut_short) recorder.cut_short(*run.cut_short, cut_short_by(run.summary.at("cut_short")));
  recorder.finish();

  result.summary = std::move(run.summary);
  result.survives = run.survives;
  const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
  result.summary["engine"]["wall_s"] = wall.count();
  folder.write("summary.json", result.summary.dump(2) + "\n");
  folder.write("report.html", report_html(result.summary, series.finish(run.service ? &*run.service : nullptr)));
  result.cut_short = run.cut_short.has_value();
  if (result.cut_short) {
    folder.keep();
    result.folder = folder.partial();
  } else {
    folder.publish();
  }
  return result;
}

std::string default_folder(const Scenario& scenario, const std::string& addition) {
  return "out/" + std::filesystem::path(scenario.path).stem().string() + addition;
}

}  // namespace overwinter
