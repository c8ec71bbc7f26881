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
  RunFolder folder(result.folder);
  std::filesystem::create_directory(folder.file("members"));

  std::vector<MemberResult>& results = result.members;
  results.resize(members.size());
  EnsembleProgress progress;
  progress.members = members.size();
  const MemberResult* worst = nullptr;
  const auto keep = [&](MemberResult r) {
    MemberResult& kept = results[static_cast<std::size_t>(r.member - members.data())];
    kept = std::move(r);
    if (!worst || worse(kept, *worst)) worst = &kept;
    progress.worst = worst->member->name + " " + verdict_word(*worst);
    ++progress.done;
    result.complete = result.complete && kept.complete();
    result.held = result.held && kept.survives.value_or(false);
  };

  PoolWork pool;
  pool.work = [&](std::size_t i, const std::function<void(double)>& tell) {
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
    throw SimulationError("member " + members[lost.task].name + ": two workers in a row " + lost.what() +
                          "; nothing was written");
  }

  result.ensemble = ensemble_json(scenario, results);
  const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - started;
  result.ensemble["engine"] = {{"jobs", options.jobs}, {"wall_s", wall.count()}};
  folder.write("ensemble.json", result.ensemble.dump(2) + "\n");
  folder.write("members.csv", members_csv(results));
  folder.publish();
  return result;
}

}  // namespace overwinter
