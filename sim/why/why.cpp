#include "sim/why/why.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
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

/// By who can make them; of those the smallest first, choices last.
void sort_changes(Json& changes) {
  const auto place = [](const Json& change) {
    std::size_t who = 0;
    while (name_of(remedies()[who]) != change.at("remedy")) ++who;
    const Json& relative = change.at("relative");
    return std::pair(who,
                     relative.is_null() ? std::numeric_limits<double>::infinity() : std::abs(relative.get<double>()));
  };
  auto& all = changes.get_ref<Json::array_t&>();
  std::stable_sort(all.begin(), all.end(), [&](const Json& a, const Json& b) { return place(a) < place(b); });
}

std::string damaged(const Json& d) { return d.at("part").get<std::string>() + " " + d.at("kind").get<std::string>(); }

/// What a run has damaged that another has not, and which requirements it fails that the other held.
std::vector<std::string> broken(const Json& run, const Json& other) {
  std::vector<std::string> all;
  std::set<std::string> known;
  for (const Json& d : other.at("damage").at("all")) known.insert(damaged(d));
  for (const Json& d : run.at("damage").at("all")) {
    if (known.count(damaged(d)) == 0) all.push_back(d.at("text").get<std::string>());
  }
  const bool told = !all.empty();
  std::set<std::string> held;
  for (const Json& r : other.at("requirements")) {
    if (r.at("held") == true) held.insert(r.at("name").get<std::string>());
  }
  for (const Json& r : run.at("requirements")) {
    const std::string name = r.at("name").get<std::string>();
    if (r.at("held") != false || held.count(name) == 0 || (name == "damage" && told)) continue;
    all.push_back(fmt::format("{} {}, {} {} required", worded(name), r.at("value_text").get<std::string>(),
                              r.at("relation").get<std::string>(), r.at("limit_text").get<std::string>()));
  }
  return all;
}

/// In a worker: looks at what one knob can do.
class Look {
 public:
  /// All outlive it. `before`: the summary of the run as it is.
  Look(const Task& task, const Scenario& scenario, const Weather& weather, const WhyOptions& options,
       const Json& before, const WorkerVoice& tell)
      : task_(task),
        knob_(task.knob),
        scenario_(scenario),
        weather_(weather),
        options_(options),
        before_(before),
        tell_(tell),
        known_(
            {{"kind", knob_.kind}, {"remedy", name_of(knob_.remedy())}, {"name", knob_.name}, {"unit", knob_.unit}}) {
    known_["from"] = knob_.choice ? Json(knob_.choice->now) : Json(knob_.now);
  }

  Json result() {
    const std::optional<Smallest> found = searched();
    Json j = known_;
    if (found && found->value) {
      j = cure(*found->value);
      j["short_of"] = found->short_of ? Json(*found->short_of) : Json(nullptr);
      j["brownout_short_of"] = found->short_of ? last_of(*found->short_of) : Json(nullptr);
      j["within_tolerance"] = !knob_.choice && !found->short_of;
      j.update(whole_run(*found->value));
      if (options_.margin && !knob_.choice) j["with_margin"] = enlarged(*found->value);
    } else if (found) {
      j["tried"] = as_told(found->furthest);
      j["brownout_then"] = last_of(found->furthest);
    }
    j["replays"] = replays_;
    return j;
  }

 private:
  Scenario changed(double value) const { return read_with(scenario_, knob_.set(value)); }
  Json as_told(double value) const { return knob_.choice ? Json(knob_.choice->instead) : Json(value); }

  bool is_valid(double value) const {
    try {
      changed(value);
      return true;
    } catch (const InputError&) {
      return false;
    }
  }

  /// Tells the smallest change that is known to help.
  bool helps(double value) {
    const auto trial = replay_until(changed(value), weather_, options_, task_.until, task_.brownout);
    ++replays_;
    trials_[value] = trial;
    const bool does = trial && trial->brownouts <= task_.brownout;
    if (does && (!smallest_ || std::abs(value - knob_.now) < std::abs(*smallest_ - knob_.now))) smallest_ = value;
    Json so_far = smallest_ ? cure(*smallest_) : known_;
    so_far["replays"] = replays_;
    tell_.so_far(so_far.dump());
    return does;
  }

  std::optional<Smallest> searched() {
    if (!knob_.choice) {
      return smallest_change(
          knob_.now, knob_.bound, knob_kind(knob_.kind).tolerance, knob_.step, [&](double v) { return is_valid(v); },
          [&](double v) { return helps(v); });
    }
    if (!is_valid(knob_.bound)) return std::nullopt;
    Smallest found;
    if (helps(knob_.bound)) found.value = knob_.bound;
    found.furthest = knob_.bound;
    return found;
  }

  Json last_of(double value) const {
    const std::optional<Trial>& trial = trials_.at(value);
    return trial && trial->last ? Json(iso_time(*trial->last)) : Json(nullptr);
  }

  /// A change that helps, with all that a search still has to say of it left open.
  Json cure(double value) const {
    Json j = known_;
    j["to"] = as_told(value);
    j["relative"] = knob_.choice ? Json(nullptr) : Json(value / knob_.now - 1);
    j["set"] = overrides_json(knob_.set(value));
    for (const char* key : {"short_of", "brownout_short_of", "within_tolerance", "brownouts_in_span", "breaks"}) {
      j[key] = nullptr;
    }
    return j;
  }

  /// The span with that change: how often it browns out in it, and what else is broken.
  Json whole_run(double value) {
    ++replays_;
    const Scenario with = changed(value);
    RunOptions run;
    static_cast<EngineOptions&>(run) = options_;
    run.limit.reset();  // it counts for all the work together
    try {
      const Json summary = simulate(with, weather_, Diagram(with), run, {}).summary;
      return {{"brownouts_in_span", summary.at("brownouts").at("count")}, {"breaks", broken(summary, before_)}};
    } catch (const SimulationError&) {
      return {{"brownouts_in_span", nullptr}, {"breaks", nullptr}};
    }
  }

  /// The change made larger by the margin that was asked for; null where the value cannot be had.
  Json enlarged(double found) {
    const double value = with_margin(knob_, found, *options_.margin);
    if (!is_valid(value)) return nullptr;
    const bool does = helps(value);
    Json j = {{"to", value},
              {"relative", value / knob_.now - 1},
              {"set", overrides_json(knob_.set(value))},
              {"avoids", does},
              {"brownout_then", does ? Json(nullptr) : last_of(value)}};
    j.update(whole_run(value));
    return j;
  }

  const Task& task_;
  const Knob& knob_;
  const Scenario& scenario_;
  const Weather& weather_;
  const WhyOptions& options_;
  const Json& before_;
  const WorkerVoice& tell_;
  Json known_;
  std::size_t replays_ = 0;
  std::map<double, std::optional<Trial>> trials_;
  std::optional<double> smallest_;
};

/// Whether a change that helps is none that one could make, or harms elsewhere.
bool is_no_cure(const Json& change) {
  const bool too_small = change.at("remedy") == name_of(Remedy::datasheet) && change.at("within_tolerance") == true;
  return too_small || (change.at("breaks").is_array() && !change.at("breaks").empty());
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
                    {"no_cure", Json::array()},
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
        one[is_no_cure(change) ? "no_cure" : "changes"].push_back(std::move(change));
      } else if (change.contains("tried")) {
        one["no_help"].push_back(std::move(change));
      }
    }
    for (Json& one : all) {
      for (const char* list : {"changes", "no_cure"}) sort_changes(one[list]);
    }
    const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
    const Json changes = changes_json(scenario, weather);
    Json j = {{"format", 1},
              {"version", OVERWINTER_VERSION},
              {"scenario", scenario.title},
              {"span", {{"from", iso(scenario.from)}, {"to", iso(scenario.to)}}}};
    if (!cut_short.is_null()) j["cut_short"] = cut_short;
    if (options.margin) j["margin"] = *options.margin;
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
    return Look(tasks[i], scenario, weather, options, result.summary, voice).result().dump();
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
