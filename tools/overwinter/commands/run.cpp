// overwinter run
#include <fmt/format.h>

#include <cmath>

#include "sim/replay/replay.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/commands/option_values.hpp"
#include "tools/overwinter/ensemble_text.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

class Run : public Command {
 public:
  explicit Run(CLI::App& program)
      : Command(program, "run", "Replay the weather through the netlist and write the results") {
    add_file();
    name_of_a("folder for the results", "--out", out_,
              "folder for the results (default: out/ and the scenario file's name; of several members, with -ensemble "
              "behind it)",
              "FOLDER");
    require(parser()
                .add_option("--weather", choice_.weather,
                            "another weather file: STATION.epw at its own place; or a CSV file, with the columns and "
                            "at the site of the scenario. Of several, each is a member of an ensemble")
                ->type_name("FILE")
                ->expected(1, -1),
            "the name of the weather file is empty", "--weather FILE");
    add_changes();
    value("--seeds", choice_.seeds,
          "seeds of synthetic weather, such as 1..50 or 3,7,9; each is a member of an ensemble", "LIST",
          "--seeds 1..50");
    value("--years", choice_.years,
          "years in which the span is to begin, such as 2005..2014; each is a member of an ensemble, with each weather "
          "file or seed",
          "LIST", "--years 2005..2014");
    value("--jobs", jobs_, "worker processes of an ensemble (default: one a processor)", "NUMBER", "--jobs 2");
    parser().add_option("--every", every_, "distance of the trace's regular rows (default: 10 min)")->type_name("TIME");
    add_engine();
    add_limit("the run, or of an ensemble each member by itself,");
    add_json("print summary.json, or ensemble.json, instead of the text");
  }

 private:
  int work() override {
    const double seconds = option_value("--every", every_, unit_of<Duration>("min"), 1, 86400 * 366.0, "\"10 min\"");
    options_.every = static_cast<Tick>(std::llround(seconds * ticks_per_second));
    static_cast<EngineOptions&>(options_) = engine();
    const std::size_t workers = worker_count(jobs_);
    const Scenario scenario = read_changed(file_, set_, faults_);
    const std::vector<Member> members = choice_.members(scenario);
    return members.size() == 1 ? one(scenario, members.front()) : many(scenario, members, workers);
  }

  int one(const Scenario& scenario, const Member& member) const {
    ReplayOptions options;
    static_cast<RunOptions&>(options) = options_;
    options.out = out_;
    options.weather = member.weather;
    if (member.seed) options.seed = *member.seed;
    options.year = member.year;
    ReplayResult result;
    {
      const Interruptible user;
      ProgressLine line;
      options.look = [&] { user.check(); };
      options.progress = [&](Tick reached, double share) { line.show(reached, share); };
      result = replay(scenario, options);
    }
    fmt::print("{}", json_ ? result.summary.dump(2) + "\n" : result_text(result.summary, result.folder));
    if (result.cut_short) complain(fmt::format("overwinter: cut short, see {}\n", result.folder));
    return result.cut_short ? exit_incomplete : result.survives == Held::yes ? 0 : exit_requirement;
  }

  int many(const Scenario& scenario, const std::vector<Member>& members, std::size_t workers) {
    EnsembleOptions options;
    static_cast<RunOptions&>(options) = options_;
    options.out = out_;
    options.jobs = workers;
    EnsembleResult result;
    {
      const Interruptible user;
      ProgressLine line;
      options.watch = [&](const EnsembleProgress& progress) {
        user.check();
        line.show(progress);
      };
      result = run_ensemble(scenario, members, options);
    }
    // a member's own command, without what makes it that member
    const std::string command =
        "overwinter run " + in_shell(file_) + given_alike() + given_options(parser(), {"--every"});
    fmt::print("{}", json_ ? result.ensemble.dump(2) + "\n" : ensemble_text(result, command));
    complain(errors_text(result));
    if (result.ensemble.contains("cut_short")) complain(fmt::format("overwinter: cut short, see {}\n", result.folder));
    return !result.complete ? exit_incomplete : result.held ? 0 : exit_requirement;
  }

  RunOptions options_;
  RunChoice choice_;
  std::string out_, jobs_, every_ = "10 min";
};

}  // namespace

std::unique_ptr<Command> run_command(CLI::App& program) { return std::make_unique<Run>(program); }

}  // namespace overwinter
