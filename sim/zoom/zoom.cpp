#include "sim/zoom/zoom.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/engine/transient.hpp"
#include "sim/input_error.hpp"
#include "sim/zoom/moment_search.hpp"
#include "sim/zoom/saved_moment.hpp"
#include "sim/zoom/waveform_recorder.hpp"

namespace overwinter {

namespace {

constexpr std::size_t most_rows = 50'000;
constexpr Tick near = 2 * 3600 * ticks_per_second;  // longer than any segment of a run

double share(Tick t, const Weather& weather) {
  return static_cast<double>(t - weather.begin()) / static_cast<double>(weather.end() - weather.begin());
}

/// Notes where a segment goes through a transient in which something fails.
class FailureWatch final : public RunWatcher {
 public:
  void on_closer_look(Tick begin, Tick, bool failed) override {
    if (failed) begun = begin;
  }
  Tick begun = never;
};

/// Waits for events, each at its first coming.
class Awaiting final : public RunWatcher {
 public:
  explicit Awaiting(std::vector<std::pair<std::string, std::string>> events) : missing(std::move(events)) {}
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    const auto found = std::find(missing.begin(), missing.end(), std::pair(h.part_name(), h.event_name()));
    if (found == missing.end()) return;
    missing.erase(found);
    last = h.time;
  }
  std::vector<std::pair<std::string, std::string>> missing;
  Tick last = never;  ///< when the latest of those that came did
};

/// The last settled state of the run at or before that time. It is sampled as a run is, for what the samples leave in
/// the network's solver moves events by a microsecond.
Context settled_before(Tick begin, const Weather& weather, const Diagram& diagram, const RunOptions& options) {
  FailureWatch failure;
  Simulator run(diagram, weather, simulator_options(options, options.every), &failure);
  Context c = run.start(), last = c;
  while (c.now < begin) {
    if (c.now + near >= begin) last = c;
    failure.begun = never;
    run.advance_segment(c, weather.end());
    if (options.progress) options.progress(c.now, share(c.now, weather));
  }
  if (c.now == begin) return c;
  // The segment that passed it once more, and no further than a settled state leads.
  const Tick reachable = std::min(begin, failure.begun - 1);
  while (last.now < reachable) {
    c = last;
    run.advance_segment(c, reachable);
    if (c.now > reachable) break;
    last = std::move(c);
  }
  return last;
}

/// The settled state of the file as a transient begins from it.
Context begun(const SavedMoment& saved, Simulator& settled, Simulator& transient) {
  Context c = saved.context;
  settled.resolve(c);
  try {
    return enter_transient(settled, transient, c);
  } catch (const TransientRefused& refused) {
    throw SimulationError(std::string("the window cannot begin there: ") + refused.what() +
                          "; try: another --before, or an earlier --at");
  }
}

/// A zoom shows what it was asked for: settled run and transient may come to it at different times. Reaches that far,
/// or, where --after says otherwise or it does not come, tells so.
void reach(SavedMoment& saved, const FoundMoment& found, std::optional<Tick> after, const Weather& weather,
           const Diagram& diagram, const RunOptions& options) {
  constexpr Tick stretch = 10'000'000;
  if (found.asked_for.empty()) return;
  Awaiting awaiting(found.asked_for);
  Simulator settled(diagram, weather, simulator_options(options));
  Simulator transient(diagram, weather, transient_options(settled.options()), &awaiting);
  const Tick latest = std::min(weather.end(), found.time + longest_wait);
  Context c = begun(saved, settled, transient);
  while (!awaiting.missing.empty() && c.now < latest) {
    transient.advance(c, std::min(latest, c.now + stretch));
    if (options.progress) options.progress(c.now, share(c.now, weather));
  }
  if (!awaiting.missing.empty()) {
    const auto& [part, event] = awaiting.missing.front();
    saved.occasion += fmt::format("; here {} {} does not come within {}", part, event, offset_text(longest_wait));
  }
  if (awaiting.last == never) return;
  if (!after) {
    saved.until = std::min(weather.end(), std::max(saved.until, awaiting.last + usual_after));
  } else if (awaiting.last > saved.until) {
    saved.occasion += fmt::format("; it comes {} after the moment here, beyond --after",
                                  offset_text(awaiting.last - found.time).substr(1));
  }
}

Waveforms window(const SavedMoment& saved, const Scenario& scenario, const Weather& weather, const Diagram& diagram,
                 const RunOptions& options) {
  const auto progress = [&](Tick t) {
    if (options.progress) options.progress(t, share(t, weather));
  };
  WaveformRecorder recorder(scenario, diagram, most_rows, progress);
  Simulator settled(diagram, weather, simulator_options(options));
  Simulator transient(diagram, weather, transient_options(settled.options()), &recorder);
  Context c = begun(saved, settled, transient);
  recorder.on_step(c.now, c.state.data(), transient.at(c));
  try {
    transient.advance(c, saved.until);
  } catch (const TooManyRows& e) {
    const Tick fits = std::max<Tick>(1'000'000, (e.reached - saved.moment) / 1'000'000 * 1'000'000);
    Fault fault;
    fault.place.file = "--after";
    fault.message = "so long a window has more rows than a table or page is good for: " + std::to_string(most_rows) +
                    " of them reach " + offset_text(e.reached - saved.moment);
    fault.suggestion = "--after \"" + std::to_string(fits / 1'000'000) + " ms\"";
    throw InputError({fault});
  }
  Waveforms w = recorder.finish();
  w.title = scenario.title;
  w.occasion = saved.occasion;
  w.moment = saved.moment;
  w.utc_offset = transient.moment(saved.moment).offset;
  return w;
}

/// That the scenario's parts can stand so, at an operating point.
void require_possible(const std::string& path, const SavedMoment& saved, const Weather& weather, const Diagram& diagram,
                      const RunOptions& options) {
  const auto refuse = [&](const std::string& why) {
    Fault fault;
    fault.place.file = path;
    fault.message = "the instrument cannot be in that state: " + why;
    fault.suggestion = "moment.json as a zoom has written it, and values near those of that run";
    throw InputError({fault});
  };
  Simulator settled(diagram, weather, simulator_options(options));
  Context c = saved.context;
  try {
    settled.resolve(c);
  } catch (const SimulationError& e) {
    refuse(e.what());
  }
  Evaluator& system = settled.at(c);
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    for (const Output& o : diagram.parts()[p].table->outputs) {
      const double value = o.value(system.model(p), system.view(p));
      const bool known = o.labels.empty() || (value >= 0 && value < static_cast<double>(o.labels.size()));
      if (!std::isfinite(value) || !known) refuse(diagram.parts()[p].name + " has no " + o.name + " in it");
    }
  }
}

}  // namespace

Zoom zoom(const Scenario& scenario, const Weather& weather, const Diagram& diagram, const RunOptions& options,
          const ZoomRequest& request) {
  FoundMoment found;
  if (const auto* numbered = std::get_if<NumberedEvent>(&request.moment)) {
    found = find_moment(scenario, weather, diagram, options, *numbered);
  } else {
    found.time = std::get<Tick>(request.moment);
  }
  SavedMoment saved;
  saved.moment = found.time;
  saved.occasion = found.occasion;
  saved.until = std::min(weather.end(), found.time + request.after.value_or(usual_after));
  const Tick before = std::max<Tick>(1, request.before);  // what happens at the moment has not happened yet
  saved.context = settled_before(std::max(weather.begin(), found.time - before), weather, diagram, options);
  if (saved.until <= saved.context.now) {
    Fault fault;
    fault.place.file = "--after";
    fault.message = "the window has no length: the span begins at the moment";
    fault.suggestion = "--after \"4 ms\"";
    throw InputError({fault});
  }
  reach(saved, found, request.after, weather, diagram, options);
  Zoom result;
  result.moment = saved_moment_text(saved, scenario, diagram);
  saved = read_saved_moment("moment.json", result.moment, weather, diagram);
  result.waveforms = window(saved, scenario, weather, diagram, options);
  return result;
}

Zoom zoom_from(const std::string& path, const std::string& text, std::optional<Tick> after, const Scenario& scenario,
               const Weather& weather, const Diagram& diagram, const RunOptions& options) {
  SavedMoment saved = read_saved_moment(path, text, weather, diagram);
  require_possible(path, saved, weather, diagram, options);
  saved.until = std::min(weather.end(), after ? saved.moment + *after : saved.until);
  Zoom result;
  result.moment = saved_moment_text(saved, scenario, diagram);
  result.waveforms = window(saved, scenario, weather, diagram, options);
  return result;
}

}  // namespace overwinter
