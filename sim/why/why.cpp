#include "sim/why/why.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <set>

#include "sim/input_error.hpp"
#include "sim/replay/changes_json.hpp"
#include "sim/replay/run_folder.hpp"
#include "sim/replay/simulate.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"
#include "sim/why/knobs.hpp"
#include "sim/why/search.hpp"
#include "sim/why/trial.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t no_limit = SIZE_MAX - 1;

/// The brown-outs that are to be told, counted from 0.
std::vector<std::size_t> wanted(const ServiceRecord& record, const WhyOptions& options, bool cut_short) {
  const std::size_t count = record.brownouts.size();
  if (options.brownout && *options.brownout > count && cut_short) return {};  // it may come later
  if (options.brownout && *options.brownout > count) {
    Fault fault;
    fault.place.file = "--brownout " + std::to_string(*options.brownout);
    fault.message = count == 0 ? "the run has no brown-out"
                               : "the run has " + how_many(std::to_string(count), "brown-out") + ", counted from 1";
    fault.suggestion = count == 0 ? "`overwinter run` tells how it ends" : "--brownout " + std::to_string(count);
    throw InputError({fault});
  }
  if (options.brownout) return {*options.brownout - 1};
  std::vector<std::size_t> all;
  std::set<std::string> causes, ids;
  for (std::size_t n = 0; n < count; ++n) {
    const bool new_cause = causes.insert(record.brownouts[n].cause()).second;
    const bool new_id = ids.insert(record.brownouts[n].cause_id).second;
    if (new_cause || new_id || options.all) all.push_back(n);
  }
  return all;
}

struct Task {
  std::size_t brownout = 0;  ///< of the run, from 0
  Tick until = 0;
  Knob knob;
};

/// The scenario's file once more, with these values, over the same days and with the same faults.
Scenario read_with(const Scenario& scenario, const std::vector<Override>& more) {
  Scenario changed = read_scenario(scenario.path, merged(scenario.overrides, more));
  changed.from = scenario.from;
  changed.to = scenario.to;
  changed.faults = scenario.faults;
  return changed;
}

Json overrides_json(const std::vector<Override>& set) {
  Json all = Json::array();
  for (const Override& o : set) all.push_back(o.path + "=" + o.value);
  return all;
}

std::size_t place_of(std::size_t brownout, const std::vector<std::size_t>& told) {
  return static_cast<std::size_t>(std::find(told.begin(), told.end(), brownout) - told.begin());
}

/// The smallest first, choices last.
void sort_by_size(Json& changes) {
  const auto size = [](const Json& change) {
    const Json& relative = change.at("relative");
    return relative.is_null() ? std::numeric_limits<double>::infinity() : std::abs(relative.get<double>());
  };
  auto& all = changes.get_ref<Json::array_t&>();
  std::stable_sort(all.begin(), all.end(), [&](const Json& a, const Json& b) { return size(a) < size(b); });
}

/// In a worker: what one knob can do. Tells the smallest change that is known to help, as it is found.
Json look_for(const Task& task, const Scenario& scenario, const Weather& weather, const EngineOptions& engine,
              const WorkerVoice& tell) {
  const Knob& knob = task.knob;
  std::size_t replays = 0;
  std::map<double, std::optional<Trial>> trials;
  const auto valid = [&](double value) {
    try {
      read_with(scenario, knob.set(value));
      return true;
    } catch (const InputError&) {
      return false;
    }
  };
  const auto as_told = [&](double value) { return knob.choice ? Json(knob.choice->instead) : Json(value); };
  Json j = {{"kind", knob.kind}, {"name", knob.name}, {"unit", knob.unit}};
  j["from"] = knob.choice ? Json(knob.choice->now) : Json(knob.now);
  const auto cure = [&](double value) {
    Json found = j;
    found["to"] = as_told(value);
    found["relative"] = knob.choice ? Json(nullptr) : Json(value / knob.now - 1);
    found["set"] = overrides_json(knob.set(value));
    for (const char* key : {"short_of", "brownout_short_of", "brownouts_in_span"}) found[key] = nullptr;
    return found;
  };
  std::optional<double> smallest;
  const auto helps = [&](double value) {
    const auto trial = replay_until(read_with(scenario, knob.set(value)), weather, engine, task.until, task.brownout);
    ++replays;
    trials[value] = trial;
    const bool does = trial && trial->brownouts <= task.brownout;
    if (does && (!smallest || std::abs(value - knob.now) < std::abs(*smallest - knob.now))) smallest = value;
    Json so_far = smallest ? cure(*smallest) : j;
    so_far["replays"] = replays;
    tell.so_far(so_far.dump());
    return does;
  };
  const auto last_of = [&](double value) {
    const std::optional<Trial>& trial = trials.at(value);
    return trial && trial->last ? Json(iso_time(*trial->last)) : Json(nullptr);
  };
  std::optional<Smallest> found;
  if (!knob.choice) {
    found = smallest_change(knob.now, knob.bound, knob.step, valid, helps);
  } else if (valid(knob.bound)) {
    found.emplace();
    if (helps(knob.bound)) found->value = knob.bound;
    found->furthest = knob.bound;
  }
  if (found && found->value) {
    j = cure(*found->value);
    std::optional<Trial> in_span = trials.at(*found->value);
    if (task.until < weather.end()) {
      ++replays;
      in_span = replay_until(read_with(scenario, knob.set(*found->value)), weather, engine, weather.end(), no_limit);
    }
    j["short_of"] = found->short_of ? Json(*found->short_of) : Json(nullptr);
    j["brownout_short_of"] = found->short_of ? last_of(*found->short_of) : Json(nullptr);
    j["brownouts_in_span"] = in_span ? Json(in_span->brownouts) : Json(nullptr);
  } else if (found) {
    j["tried"] = as_told(found->furthest);
    j["brownout_then"] = last_of(found->furthest);
  }
  j["replays"] = replays;
  return j;
}

}  // namespace

Json why(const Scenario& scenario, const Weather& weather, const WhyOptions& options) {
  const auto started = std::chrono::steady_clock::now();
  const TimeLimit limit(options.limit);
  const auto tell = [&](const std::string& doing, double share) {
    if (options.progress) options.progress(doing, share);
  };
  const Diagram diagram(scenario);
  RunOptions run;
  static_cast<EngineOptions&>(run) = options;
  run.progress = [&](Tick, double share) { tell("replaying", share); };
  const RunResult result = simulate(scenario, weather, diagram, run, {});
  const ServiceRecord record = result.service ? *result.service : ServiceRecord{};
  const SunnyDays sky(weather);

  std::vector<Task> tasks;
  std::vector<Json> told;
  const std::vector<std::size_t> brownouts = wanted(record, options, result.cut_short.has_value());
  for (const std::size_t n : brownouts) {
    const Json& episode = result.summary.at("brownouts").at("events").at(n);
    const Tick until = avoided_until(record, n, sky, weather.begin(), weather.end());
    told.push_back({{"number", n + 1},
                    {"time", episode.at("time")},
                    {"cause", episode.at("cause")},
                    {"cause_id", episode.at("cause_id")},
                    {"outcome", episode.at("outcome")},
                    {"story", episode.at("story")},
                    {"avoided_until", iso_time(until)},
                    {"until_span_ends", until == weather.end()},
                    {"changes", Json::array()},
                    {"no_help", Json::array()}});
    if (result.cut_short) continue;  // nothing is looked for
    const Story& story = result.stories.at(n);
    const double window = static_cast<double>(until - record.brownouts[n].begin) / ticks_per_second;
    for (Knob& knob : knobs_of(scenario, story.moment ? &*story.moment : nullptr, window)) {
      tasks.push_back({n, until, std::move(knob)});
    }
  }

  std::vector<Json> found(tasks.size());
  std::vector<bool> searched(tasks.size(), false);
  const auto known = [&](const Json& cut_short) {
    std::vector<Json> all = told;
    std::size_t replays = 1;
    for (std::size_t i = 0; i < tasks.size(); ++i) {
      Json& one = all[place_of(tasks[i].brownout, brownouts)];
      if (!searched[i]) one["not_searched"].push_back(tasks[i].knob.name);
      if (found[i].is_null()) continue;
      Json change = found[i];
      replays += change.at("replays").get<std::size_t>();
      change.erase("replays");
      if (change.contains("to")) {
        if (!searched[i]) change["cut_short"] = true;
        one["changes"].push_back(std::move(change));
      } else if (change.contains("tried")) {
        one["no_help"].push_back(std::move(change));
      }
    }
    for (Json& one : all) sort_by_size(one["changes"]);
    const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
    const Json changes = changes_json(scenario, weather);
    Json j = {{"format", 1},
              {"version", OVERWINTER_VERSION},
              {"scenario", scenario.title},
              {"span", {{"from", iso(scenario.from)}, {"to", iso(scenario.to)}}}};
    if (!cut_short.is_null()) j["cut_short"] = cut_short;
    j["overrides"] = changes.at("overrides");
    j["faults"] = changes.at("faults");
    j["count"] = record.brownouts.size();
    j["brownouts"] = std::move(all);
    j["engine"] = {{"jobs", options.jobs}, {"replays", replays}, {"wall_s", wall.count()}};
    return j;
  };
  const auto tell_known = [&](const Json& cut_short) {
    if (options.known) options.known(known(cut_short));
  };

  if (result.cut_short) return known(result.summary.at("cut_short"));
  std::size_t done = 0;
  Refresh refresh;
  PoolWork pool;
  pool.work = [&](std::size_t i, const WorkerVoice& voice) {
    return look_for(tasks[i], scenario, weather, options, voice).dump();
  };
  pool.so_far = [&](std::size_t i, const std::string& text) { found[i] = Json::parse(text); };
  pool.done = [&](std::size_t i, const std::string& text) {
    found[i] = Json::parse(text);
    searched[i] = true;
    ++done;
    refresh.now_and_then([&] { tell_known(at_work_json()); });
  };
  pool.failed = [&](std::size_t i, const std::string& why_not) {
    throw SimulationError("looking at " + tasks[i].knob.name + ": " + why_not);
  };
  pool.tick = [&](double) {
    tell("looking for changes", static_cast<double>(done) / static_cast<double>(tasks.size()));
  };
  if (tasks.empty()) return known({});
  refresh.now_and_then([&] { tell_known(at_work_json()); });
  try {
    run_in_workers(tasks.size(), options, pool, limit);
  } catch (const WorkerLost& lost) {
    throw SimulationError("looking at " + tasks[lost.task].knob.name + ": two workers in a row " + lost.what());
  } catch (const Stopped& stopped) {
    const Json cut_short = cut_short_json(stopped, options.limit);
    if (stopped.signal == 0) return known(cut_short);
    tell_known(cut_short);
    throw;
  }
  return known({});
}

}  // namespace overwinter
