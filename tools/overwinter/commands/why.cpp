// overwinter why
#include "sim/why/why.hpp"

#include <fmt/format.h>

#include "sim/netlist/field_text.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/run_folder.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/commands/option_values.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/why_text.hpp"

namespace overwinter {
namespace {

class Why : public Command {
 public:
  explicit Why(CLI::App& program)
      : Command(program, "why",
                "Tell why an instrument browned out, and the smallest single change that would have avoided it") {
    add_file();
    value("--brownout", brownout_, "the N-th brown-out of the run, counted from 1 (default: the first of each cause)",
          "N", "--brownout 1");
    flag("--all", all_, "every brown-out of the run");
    value("--margin", margin_, "replay each change that is found once more, made larger by this share of it", "SHARE",
          "--margin \"20 %\"");
    add_changes();
    require(parser()
                .add_option("--weather", choice_.weather, "another weather file, as for run")
                ->type_name("FILE")
                ->expected(1),
            "the name of the weather file is empty", "--weather FILE");
    value("--seeds", choice_.seeds, "another seed of synthetic weather", "N", "--seeds 7");
    value("--years", choice_.years, "another year in which the span is to begin", "YEAR", "--years 2009");
    value("--jobs", jobs_, "worker processes (default: one a processor)", "NUMBER", "--jobs 2");
    name_of_a("folder for the results", "--out", out_,
              "folder for why.json (default: out/ and the scenario file's name, with -why behind it)", "FOLDER");
    add_engine();
    add_limit("the work, of all workers together,");
    add_json("print why.json instead of the text");
    parser().footer(
        "Examples:\n"
        "  overwinter why scenarios/peat-bog.yaml                      the first brown-out of each cause\n"
        "  overwinter why scenarios/peat-bog.yaml --brownout 2         a certain one\n"
        "  overwinter why scenarios/snow-stake.yaml --seeds 50         of a member of an ensemble\n"
        "  overwinter why scenarios/peat-bog.yaml --set 'cell.capacity=6 Ah'     after a change\n"
        "  overwinter why scenarios/peat-bog.yaml --margin \"20 %\"     each change a fifth larger as well\n\n"
        "A brown-out counts as avoided if none begins in its place until the light is back: to the end of the first "
        "sunny\n"
        "day after it and its relapses. Each change was replayed, and so was 95 % of a number's, which does not do.\n"
        "`overwinter explain cures` tells their order, and what is no cure.\n"
        "Exit codes: 0 told, 2 bad usage or input, 3 the simulation could not be completed or was cut short by "
        "--limit.");
  }

 private:
  int work() override {
    WhyOptions options;
    static_cast<EngineOptions&>(options) = engine();
    options.jobs = worker_count(jobs_);
    options.all = all_;
    if (!margin_.empty()) {
      constexpr double least = 0.001, most = 10;
      options.margin = option_value("--margin", margin_, unit_of<double>("%"), least, most, "\"20 %\"");
    }
    if (!brownout_.empty()) {
      TextFault unused;
      const std::optional<int> n = parse_count("--brownout", brownout_, unused);
      if (!n || *n < 1) {
        throw option_fault("--brownout " + in_quotes(brownout_), "brown-outs are counted from 1", "--brownout 1");
      }
      if (all_) throw option_fault("--brownout " + brownout_, "--all tells all of them already", "one of the two");
      options.brownout = static_cast<std::size_t>(*n);
    }
    const OneRun run = one_run(read_changed(file_, set_, faults_), choice_, "why");
    const std::string out = out_.empty() ? default_folder(run.scenario, "-why") : out_;
    RunFolder folder(out, Kept::partly);
    nlohmann::ordered_json result;
    const auto write = [&](const nlohmann::ordered_json& known) { folder.write("why.json", known.dump(2) + "\n"); };
    try {
      const Interruptible user;
      ProgressLine line;
      options.look = [&] { user.check(); };
      options.progress = [&](const std::string& doing, double share) {
        user.check();
        line.show(doing, share);
      };
      options.known = [&](const nlohmann::ordered_json& known) {
        write(known);
        folder.keep();
      };
      result = why(run.scenario, run.weather, options);
    } catch (Stopped& stopped) {
      if (folder.is_kept()) stopped.kept = folder.partial();
      throw;
    } catch (const SimulationError& e) {
      if (!folder.is_kept()) throw;
      throw SimulationError(std::string(e.what()) + "; what was known is in " + folder.partial());
    }
    write(result);
    const bool whole = !result.contains("cut_short");
    whole ? folder.publish() : folder.keep();
    const std::string command = "overwinter run " + in_shell(file_) + options_of(run.member) + given_alike();
    fmt::print("{}", json_ ? result.dump(2) + "\n" : why_text(result, command, whole ? out : folder.partial()));
    if (!whole) complain(fmt::format("overwinter: cut short, see {}\n", folder.partial()));
    return whole ? 0 : exit_incomplete;
  }

  RunChoice choice_;
  std::string brownout_, jobs_, out_, margin_;
  bool all_ = false;
};

}  // namespace

std::unique_ptr<Command> why_command(CLI::App& program) { return std::make_unique<Why>(program); }

}  // namespace overwinter
