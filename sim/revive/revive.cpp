#include "sim/revive/revive.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <set>

#include "sim/netlist/requirements.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/run_folder.hpp"
#include "sim/revive/revive_tables.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t states_a_task = 32;  // of the look at which states stand
constexpr double share_of_look = 0.2;      // of the work, for the progress

[[noreturn]] void refuse(const std::string& place, const std::string& message, const std::string& suggestion) {
  Fault fault;
  fault.place.file = place;
  fault.message = message;
  fault.suggestion = suggestion;
  throw InputError({fault});
}

void require_wakes(const Scenario& scenario) {
  const auto wakes = [](const ScenarioPart& p) { return has_event(*p.table, EventRole::wake_completed); };
  if (std::any_of(scenario.parts.begin(), scenario.parts.end(), wakes)) return;
  refuse(scenario.path, "no part of it completes a wake, so that there is nothing to come back",
         "a controller with phases, as in scenarios/peat-bog.yaml");
}

void require_sun(const Site& site, CivilDate date) {
  if (!daylight_on(site, date).none()) return;
  const std::int64_t from = days_since_epoch(date);
  std::string suggestion = "a site on which the sun rises";
  for (std::int64_t day = 1; day <= 366; ++day) {
    if (daylight_on(site, civil_date(from + day)).none()) continue;
    suggestion = "--date " + iso(civil_date(from + day));
    break;
  }
  refuse("--date " + iso(date), "the sun stays down all day at this site", suggestion);
}

/// The seconds of the policy's longest sleep, 0 without a policy.
double longest_sleep(const Scenario& scenario) {
  return scenario.policy ? scenario.policy->longest_interval().si() : 0.0;
}

void suppose(DeadStates& states, const std::vector<std::string>& wishes) {
  std::map<std::size_t, std::set<std::size_t>> kept;
  for (const std::string& wish : wishes) {
    const std::string place = "--suppose " + in_quotes(wish);
    const std::size_t equals = wish.find('=');
    const std::string name = trimmed(wish.substr(0, equals));
    const std::vector<Dimension>& all = states.dimensions();
    std::vector<std::string> names;
    for (const Dimension& d : all) names.push_back(d.name);
    const auto d = static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
    if (d == names.size()) {
      const std::string near = suggested(name, names);
      refuse(place, "this instrument's dead states have no " + in_quotes(name),
             near.empty() ? "one of " + listed(names) : near);
    }
    const std::vector<std::string>& values = all[d].values;
    const std::string value = equals == std::string::npos ? "" : trimmed(wish.substr(equals + 1));
    const auto v = static_cast<std::size_t>(std::find(values.begin(), values.end(), value) - values.begin());
    if (v == values.size()) {
      refuse(place, value.empty() ? "the value is missing" : name + " is never " + in_quotes(value),
             name + "=" + (values.size() == 1 ? values.front() : "VALUE with one of " + listed(values)));
    }
    kept[d].insert(v);
  }
  for (const auto& [d, values] : kept) states.keep(d, {values.begin(), values.end()});
}

class Reviver {
 public:
  Reviver(const ReviveOptions& options, const TrialSetting& setting, const TimeLimit& limit, ReviveResult& result)
      : options_(options),
        setting_(setting),
        limit_(limit),
        result_(result),
        dimensions_(setting.states->dimensions()) {}

  /// `known` is called after each state that was put through its dawn. Throws Stopped, with what is known in the
  /// result.
  void work(const std::function<void()>& known) {
    const std::vector<DeadState> possible = without_contradiction();
    if (possible.empty()) refuse("--suppose", "no state is left: " + dropped_.begin()->first, "fewer or other values");
    std::vector<ReviveRow>& rows = result_.rows;
    const auto try_none_yet = [&](const std::vector<DeadState>& states) {
      rows.clear();
      for (const DeadState& state : states) rows.push_back({state, {}});
      for (ReviveRow& row : rows) row.result.fate = Fate::not_tried;
    };
    try_none_yet(possible);
    const std::vector<DeadState> standing = those_that_stand(possible);
    progress_.states = standing.size();
    try_none_yet(standing);
    for (const auto& [why, count] : dropped_) result_.dropped.push_back({why, count});
    std::stable_sort(result_.dropped.begin(), result_.dropped.end(),
                     [](const auto& a, const auto& b) { return a.count > b.count; });
    pool(
        rows.size(), share_of_look,
        [&](std::size_t i) { return trial_json(revive_once(setting_, rows[i].state)).dump(); },
        [&](std::size_t i, const std::string& answer) {
          rows[i].result = trial_of(Json::parse(answer));
          ++progress_.done;
          known();
        });
  }

 private:
  std::vector<DeadState> without_contradiction() {
    std::vector<DeadState> fine;
    for (DeadState& state : setting_.states->all()) {
      ++result_.combinations;
      const std::string why = setting_.states->contradiction(state);
      if (why.empty()) {
        fine.push_back(std::move(state));
      } else {
        ++dropped_[why];
      }
    }
    return fine;
  }

  /// A state that becomes another one within a minute is that other one; of a round of states the first is kept.
  std::vector<DeadState> those_that_stand(const std::vector<DeadState>& all) {
    std::map<DeadState, DeadState> next;
    const std::size_t tasks = (all.size() + states_a_task - 1) / states_a_task;
    pool(
        tasks, 0,
        [&](std::size_t task) {
          Json answer = Json::array();
          for (std::size_t i = task * states_a_task; i < std::min(all.size(), (task + 1) * states_a_task); ++i) {
            const auto other = becomes(setting_, all[i]);
            answer.push_back(other ? Json(*other) : Json(nullptr));
          }
          return answer.dump();
        },
        [&](std::size_t task, const std::string& answer) {
          std::size_t i = task * states_a_task;
          for (const Json& other : Json::parse(answer)) {
            if (!other.is_null()) next[all[i]] = other.get<DeadState>();
            ++i;
          }
        });
    const std::set<DeadState> known(all.begin(), all.end());
    std::vector<DeadState> standing;
    for (const DeadState& state : all) {
      const auto other = next.find(state);
      if (other == next.end() || !leads_elsewhere(state, next, known)) {
        standing.push_back(state);
      } else {
        ++dropped_[what_changes(state, other->second)];
      }
    }
    return standing;
  }

  /// Whether following what states become ends in one that stands, or in an earlier one.
  static bool leads_elsewhere(const DeadState& from, const std::map<DeadState, DeadState>& next,
                              const std::set<DeadState>& known) {
    std::set<DeadState> seen{from};
    DeadState at = from;
    for (;;) {
      const auto other = next.find(at);
      if (other == next.end()) return known.count(at) > 0;
      at = other->second;
      if (seen.insert(at).second) continue;
      return *seen.begin() != from;  // a round
    }
  }

  std::string what_changes(const DeadState& from, const DeadState& to) const {
    std::size_t d = 0;
    while (from[d] == to[d]) ++d;
    const Dimension& dimension = dimensions_[d];
    return dimension.name + ": " + dimension.values[from[d]] + " does not last, it becomes " + dimension.values[to[d]];
  }

  void pool(std::size_t tasks, double from, const std::function<std::string(std::size_t)>& work,
            const std::function<void(std::size_t, const std::string&)>& done) {
    std::size_t finished = 0;
    const double weight = from > 0 ? 1 - from : share_of_look;
    PoolWork p;
    p.work = [&](std::size_t i, const WorkerVoice&) { return work(i); };
    p.done = [&](std::size_t i, const std::string& answer) {
      done(i, answer);
      ++finished;
    };
    p.failed = [](std::size_t, const std::string& why) { throw SimulationError(why); };
    p.tick = [&](double) {
      progress_.share =
          from + weight * static_cast<double>(finished) / static_cast<double>(std::max<std::size_t>(1, tasks));
      if (options_.watch) options_.watch(progress_);
    };
    try {
      run_in_workers(tasks, options_, p, limit_);
    } catch (const WorkerLost& lost) {
      throw SimulationError(std::string("two workers in a row ") + lost.what());
    }
  }

  const ReviveOptions& options_;
  const TrialSetting& setting_;
  const TimeLimit& limit_;
  ReviveResult& result_;
  const std::vector<Dimension>& dimensions_;
  ReviveProgress progress_;
  std::map<std::string, std::size_t> dropped_;
};

}  // namespace

std::size_t ReviveResult::count(Fate fate) const {
  return static_cast<std::size_t>(
      std::count_if(rows.begin(), rows.end(), [&](const ReviveRow& r) { return r.result.fate == fate; }));
}

std::size_t ReviveResult::visits() const { return count(Fate::trap) + count(Fate::replace_cell); }

ReviveResult revive(const Scenario& scenario, const ReviveOptions& options) {
  const auto started = std::chrono::steady_clock::now();
  const TimeLimit limit(options.limit);
  require_wakes(scenario);
  const Weather weather = weather_of(scenario, std::nullopt);
  ReviveResult result;
  result.date_given = options.date.has_value();
  result.date = options.date ? *options.date : dullest_day(weather);
  require_sun(weather.site(), result.date);
  result.days = options.days.value_or(scenario.sunny_days);
  constexpr double day = 86400;
  TrialSetting setting;
  setting.engine = options;
  setting.days = result.days;
  setting.days_after = static_cast<int>(std::ceil(longest_sleep(scenario) / day)) + 1;
  const int all_days = std::min(setting.days + setting.days_after, most_revive_days + 31);
  result.dawns = dawn_profiles(weather.site(), result.date, all_days, options.fine);
  const Diagram diagram(scenario);
  std::vector<std::string> names;
  for (const DawnProfile& dawn : result.dawns) names.push_back(dawn.name);
  DeadStates states(scenario, diagram, names, options.fine);
  // Dawns are told apart by their place among all of them, so that those that are not wanted go from both lists.
  suppose(states, options.suppose);
  std::vector<DawnProfile> wanted;
  for (const std::string& name : states.dimensions().front().values) {
    const auto dawn =
        std::find_if(result.dawns.begin(), result.dawns.end(), [&](const DawnProfile& d) { return d.name == name; });
    wanted.push_back(std::move(*dawn));
  }
  result.dawns = std::move(wanted);
  result.dimensions = states.dimensions();
  setting.diagram = &diagram;
  setting.states = &states;
  setting.dawns = &result.dawns;
  setting.wakes = result.wakes = wakes_to_be_sure(diagram);

  result.folder = options.out.empty() ? default_folder(scenario, "-revive") : options.out;
  RunFolder folder(result.folder, Kept::partly);
  const auto write = [&](const Json& cut_short) {
    result.summary = revive_json(scenario, weather, result, cut_short);
    const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
    result.summary["engine"] = {{"jobs", options.jobs}, {"wall_s", wall.count()}};
    folder.write("revive.json", result.summary.dump(2) + "\n");
    folder.write("revive.csv", revive_csv(result));
  };
  const auto keep = [&](const Json& cut_short) {
    write(cut_short);
    folder.keep();
  };
  Refresh refresh;
  try {
    Reviver(options, setting, limit, result).work([&] { refresh.now_and_then([&] { keep(at_work_json()); }); });
  } catch (const SimulationError& e) {
    if (!folder.is_kept()) throw SimulationError(std::string(e.what()) + "; nothing was written");
    write(at_work_json());
    throw SimulationError(std::string(e.what()) + "; what was known is in " + folder.partial());
  } catch (Stopped& stopped) {
    const Json cut_short = cut_short_json(stopped, options.limit);
    if (stopped.signal != 0) {
      if (!folder.is_kept()) throw;
      write(cut_short);
      stopped.kept = folder.partial();
      throw;
    }
    keep(cut_short);
    result.cut_short = true;
    result.folder = folder.partial();
    return result;
  }
  write({});
  folder.publish();
  return result;
}

}  // namespace overwinter
