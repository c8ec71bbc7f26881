// The command line. Results go to standard output, messages and progress to standard error.
// Exit codes: 0 done; 1 a requirement failed or stayed undecided; 2 bad usage or input, nothing written; 3 the
// simulation could not be completed, or was cut short.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <cstdio>

#include "sim/engine/simulator.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/usage.hpp"

namespace {

using namespace overwinter;

/// What was printed has reached its place, or not: a full disk, a closed pipe.
void require_printed() {
  if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0)
    throw std::runtime_error("standard output could not be written");
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Replays weather through the power system of a field instrument."};
  app.name("overwinter");
  app.footer(
      "Examples:\n"
      "  overwinter check scenarios/peat-bog.yaml\n"
      "  overwinter run scenarios/peat-bog.yaml\n"
      "  overwinter run scenarios/peat-bog.yaml --weather station.epw --out out/elsewhere\n"
      "  overwinter run scenarios/peat-bog.yaml --set 'cell.capacity=6 Ah' --set 'policy.every=4 h'\n"
      "  overwinter run scenarios/peat-bog.yaml --weather stations/*.epw       one member for each file, side by side\n"
      "  overwinter run scenarios/snow-stake.yaml --seeds 1..50                one for each seed of synthetic weather\n"
      "  overwinter run mast.yaml --years 2005..2014 --jobs 4                  one for each year of a CSV record\n"
      "  overwinter why scenarios/peat-bog.yaml                                why it browned out, and what avoids it\n"
      "  overwinter zoom scenarios/peat-bog.yaml --event B1                    the first brown-out, to the "
      "microsecond\n"
      "  overwinter revive scenarios/peat-bog.yaml                             does it come back when it has died?\n"
      "  overwinter explain panel\n\n"
      "Exit codes: 0 ran and every requirement held, 1 ran and a requirement failed or stayed undecided,\n"
      "2 bad usage or input (nothing written), 3 the simulation could not be completed, or was cut short by --limit\n"
      "(what is known by then is in NAME-partial). Of an ensemble: 0 every member held, 1 a member did not, 3 a "
      "member\n"
      "could not be completed (the others are written) or was cut short.");
  app.set_version_flag("--version", std::string("overwinter ") + OVERWINTER_VERSION);
  app.require_subcommand(1);

  std::vector<std::unique_ptr<Command>> commands;
  for (const auto command :
       {check_command, run_command, why_command, zoom_command, revive_command, explain_command, schema_command}) {
    commands.push_back(command(app));
  }

  try {
    std::vector<std::string> words = arguments(argc, argv);
    std::reverse(words.begin(), words.end());  // as the parser takes them
    app.parse(std::move(words));
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) return app.exit(e);
    complain(fmt::format("{}\n", usage_error(app, e).what()));
    return exit_input;
  }

  try {
    int code = 0;
    for (const auto& command : commands) {
      if (command->chosen()) code = command->run();
    }
    require_printed();
    return code;
  } catch (const InputError& e) {
    complain(fmt::format("{}\n", e.what()));
    return exit_input;
  } catch (const Stopped& e) {
    complain("overwinter: interrupted, " +
             (e.kept.empty() ? std::string("nothing was written\n") : "what was known by then is in " + e.kept + "\n"));
    std::fflush(stderr);
    return std::raise(e.signal);  // a shell is to see what ended the program
  } catch (const SimulationError& e) {
    complain(fmt::format("overwinter: the simulation could not be completed: {}\n", e.what()));
    return exit_incomplete;
  } catch (const std::exception& e) {
    complain(fmt::format("overwinter: {}\n", e.what()));
    return exit_incomplete;
  }
}
