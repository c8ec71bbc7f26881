#include "sim/ensemble/ensemble.hpp"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <map>
#include <set>

#include "sim/ensemble/ensemble_tables.hpp"
#include "sim/input_error.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/run_folder.hpp"
#include "sim/stop.hpp"

namespace overwinter {
namespace {

using Weathers = std::map<std::optional<std::string>, WeatherInput>;

/// Every file read once, for all the spans that members want of it.
Weathers read_weathers(const Scenario& scenario, const std::vector<Member>& members) {
  std::map<std::optional<std::string>, std::map<int, DaySpan>> spans;
  for (const Member& m : members) spans[m.weather].emplace(m.year.value_or(0), span_in(scenario, m.year));
  Weathers weathers;
  std::vector<Fault> faults;
  std::set<std::optional<std::string>> read;
  for (const Member& m : members) {
    if (!read.insert(m.weather).second) continue;
    std::vector<DaySpan> wanted;
    for (const auto& [year, span] : spans[m.weather]) wanted.push_back(span);
    try {
      weathers.emplace(m.weather, WeatherInput(scenario, m.weather, wanted));
    } catch (const InputError& e) {
      faults.insert(faults.end(), e.faults().begin(), e.faults().end());
    }
  }
  if (!faults.empty()) throw InputError(std::move(faults));
  return weathers;
}

Scenario over(Scenario scenario, DaySpan span) {
  scenario.from = span.from;
  scenario.to = span.to;
  return scenario;
}

}  // namespace

EnsembleResult run_ensemble(const Scenario& scenario, const std::vector<Member>& members,
                            const EnsembleOptions& options) {
  const auto started = std::chrono::steady_clock::now();
  const Weathers weathers = read_weathers(scenario, members);
  const Diagram diagram(scenario);
  EnsembleResult result;
  result.folder = options.out.empty() ? default_folder(scenario, "-ensemble") : options.out;
  RunFolder folder(result.folder, Kept::partly);
  std::filesystem::create_directory(folder.file("members"));

  std::vector<MemberResult>& results = result.members;
  for (const Member& m : members) {
    MemberResult r;
    r.member = &m;
    r.span = span_in(scenario, m.year);
    r.error = "not finished";
    results.push_back(std::move(r));
  }
  const auto write = [&](const nlohmann::ordered_json& cut_short) {
    result.ensemble = ensemble_json(scenario, results, cut_short);
    const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
    result.ensemble["engine"] = {{"jobs", options.jobs}, {"wall_s", wall.count()}};
    folder.write("ensemble.json", result.ensemble.dump(2) + "\n");
    folder.write("members.csv", members_csv(results));
  };
  /// Where something is known: what is known, marked.
  const auto keep_known = [&](const nlohmann::ordered_json& cut_short) {
    if (folder.is_kept()) write(cut_short);
  };
  Refresh refresh;
  EnsembleProgress progress;
  progress.members = members.size();
  const MemberResult* worst = nullptr;
  const auto keep = [&](MemberResult r) {
    MemberResult& kept = results[static_cast<std::size_t>(r.member - members.data())];
    kept = std::move(r);
    if (!worst || worse(kept, *worst)) worst = &kept;
    progress.worst = worst->member->name + " " + verdict_word(*worst);
    ++progress.done;
    result.complete = result.complete && kept.complete() && !kept.cut_short;
    result.held = result.held && kept.survives.value_or(false);
    refresh.now_and_then([&] {
      write(at_work_json());
      folder.keep();
    });
  };

  PoolWork pool;
  pool.work = [&](std::size_t i, const WorkerVoice& tell) {
    const Member& m = members[i];
    const DaySpan span = span_in(scenario, m.year);
    const Scenario moved = over(scenario, span);
    RunOptions run = options;
    run.progress = [&](Tick reached, double share) {
      tell(share);
      if (options.progress) options.progress(reached, share);
    };
    const auto seed = m.seed ? std::optional<std::uint64_t>(static_cast<std::uint64_t>(*m.seed)) : std::nullopt;
    const Weather weather = weathers.at(m.weather).over(span, seed);
    return simulate(moved, weather, diagram, run, {}).summary.dump(2) + "\n";
  };
  pool.done = [&](std::size_t i, const std::string& summary) {
    folder.write("members/" + members[i].name + ".json", summary);
    keep(result_of(members[i], span_in(scenario, members[i].year), nlohmann::ordered_json::parse(summary)));
  };
  pool.failed = [&](std::size_t i, const std::string& why) {
    MemberResult r;
    r.member = &members[i];
    r.span = span_in(scenario, members[i].year);
    r.error = why;
    keep(std::move(r));
  };
  pool.tick = [&](double shares) {
    if (!options.watch) return;
    progress.share = (static_cast<double>(progress.done) + shares) / static_cast<double>(members.size());
    options.watch(progress);
  };
  try {
    run_in_workers(members.size(), options, pool);
  } catch (const WorkerLost& lost) {
    keep_known(at_work_json());
    throw SimulationError(
        "member " + members[lost.task].name + ": two workers in a row " + lost.what() + "; " +
        (folder.is_kept() ? "the others that were finished are in " + folder.partial() : "nothing was written"));
  } catch (Stopped& stopped) {
    keep_known(cut_short_json(stopped, options.limit));
    if (folder.is_kept()) stopped.kept = folder.partial();
    throw;
  }

  const bool cut = std::any_of(results.begin(), results.end(), [](const MemberResult& r) { return r.cut_short; });
  write(cut ? cut_short_json({}, options.limit) : nlohmann::ordered_json());
  if (cut) {
    folder.keep();
    result.folder = folder.partial();
  } else {
    folder.publish();
  }
  return result;
}

}  // namespace overwinter
