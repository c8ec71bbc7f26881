// overwinter revive
#include "sim/revive/revive.hpp"

#include <fmt/format.h>

#include "sim/netlist/date_text.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/revive/revive_tables.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/commands/option_values.hpp"
#include "tools/overwinter/revive_text.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

class Revive : public Command {
 public:
  explicit Revive(CLI::App& program)
      : Command(program, "revive", "Tell from which dead states the instrument comes back by itself") {
    add_file();
    name_of_a("folder for the results", "--out", options_.out,
              "folder for the results (default: out/ and the scenario file's name, with -revive behind it)", "FOLDER");
    add_changes();
    value("--date", date_, "day of the first dawn (default: the dullest day of the scenario's span)", "YYYY-MM-DD",
          "--date 2025-01-15");
    value("--days", days_,
          "within which the first wake must be completed (default: the scenario's sunny days, 3 where it says nothing)",
          "NUMBER", "--days 5");
    values("--suppose", options_.suppose, "only this value of what can vary; may be given several times",
           "\"NAME=VALUE\"", "--suppose dawn=clear");
    value("--jobs", jobs_, "worker processes (default: one a processor)", "NUMBER", "--jobs 2");
    flag("--fine", options_.fine, "more charges and dawns");
    add_engine(options_);
    add_limit("the work, of all workers together,");
    add_json("print revive.json with every state, instead of the text");
    parser().footer(
        "Examples:\n"
        "  overwinter revive scenarios/peat-bog.yaml\n"
        "  overwinter revive scenarios/peat-bog.yaml --date 2025-01-15 --days 5 --fine\n"
        "  overwinter revive FILE --suppose \"clock coin cell=good\"      only states in which the coin cell is good\n"
        "  overwinter revive FILE --suppose dawn=clear --suppose \"charge=40 %\"\n\n"
        "A dead state is a combination of what the parts can be found in: the cell's charge, the protector's and the\n"
        "charger's latches, the clock's flag, alarm and coin cell, the controller, and what is left on its supply.\n"
        "Exit codes: 0 no traps, 1 a state is a trap or needs a new cell, 2 bad usage or input (nothing written), 3 a\n"
        "state could not be completed, or the work was cut short by --limit. What is undecided (too little light, "
        "still charging) is no trap.");
  }

 private:
  int work() override {
    options_.jobs = worker_count(jobs_);
    static_cast<EngineOptions&>(options_) = engine();
    if (!date_.empty()) {
      TextFault why;
      options_.date = parse_date("--date", date_, why);
      if (!options_.date) throw option_fault("--date " + in_quotes(date_), why.message, "--date 2025-01-15");
    }
    if (!days_.empty()) {
      TextFault why;
      options_.days = parse_count("--days", days_, why);
      if (!options_.days || *options_.days < 1 || *options_.days > most_revive_days) {
        throw option_fault("--days " + in_quotes(days_),
                           "the number of days must be from 1 to " + std::to_string(most_revive_days), "--days 5");
      }
    }
    const Scenario scenario = read_changed(file_, set_, faults_);
    ReviveResult result;
    {
      const Interruptible user;
      ProgressLine line;
      options_.watch = [&](const ReviveProgress& progress) {
        user.check();
        line.show(progress);
      };
      result = revive(scenario, options_);
    }
    if (json_) {
      nlohmann::ordered_json whole = result.summary;
      whole["states"] = states_json(result);
      fmt::print("{}\n", whole.dump(2));
    } else {
      fmt::print("{}", revive_text(result));
    }
    complain(revive_errors_text(result));
    if (result.cut_short) complain(fmt::format("overwinter: cut short, see {}\n", result.folder));
    const bool whole = result.count(Fate::not_completed) == 0 && !result.cut_short;
    return !whole ? exit_incomplete : result.visits() > 0 ? exit_requirement : 0;
  }

  ReviveOptions options_;
  std::string date_, days_, jobs_;
};

}  // namespace

std::unique_ptr<Command> revive_command(CLI::App& program) { return std::make_unique<Revive>(program); }

}  // namespace overwinter
