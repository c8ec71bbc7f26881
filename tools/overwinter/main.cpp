// The command line. Results go to standard output, messages and progress to standard error.
// Exit codes: 0 done; 1 a requirement failed or stayed undecided; 2 bad usage or input, nothing written; 3 the
// simulation could not be completed.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <csignal>
#include <cstdio>

#include "sim/netlist/explain.hpp"
#include "sim/netlist/part_pairs.hpp"
#include "sim/netlist/schema.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/replay/replay.hpp"
#include "tools/overwinter/terminal.hpp"

namespace {

using namespace overwinter;

constexpr int exit_requirement = 1;
constexpr int exit_input = 2;
constexpr int exit_incomplete = 3;

InputError option_fault(const std::string& option, const std::string& message, const std::string& suggestion) {
  Fault fault;
  fault.place.file = option;
  fault.message = message;
  fault.suggestion = suggestion;
  return InputError({fault});
}

void check(const std::string& file, bool json) {
  const Scenario scenario = read_scenario(file);
  const Weather weather = weather_of(scenario, std::nullopt);
  std::vector<std::string> assumptions;
  for (const ScenarioPart& part : scenario.parts) {
    for (const std::string& a : part.model->assumptions()) assumptions.push_back(part.name + ": " + a);
  }
  const std::vector<std::string> findings = findings_of_pairs(scenario);
  if (json) {
    const nlohmann::ordered_json report = {{"format", 1},
                                           {"file", file},
                                           {"faults", nlohmann::ordered_json::array()},
                                           {"parts", scenario.parts.size()},
                                           {"nets", scenario.nets.size()},
                                           {"lines", scenario.lines.size()},
                                           {"findings", findings},
                                           {"assumptions", assumptions},
                                           {"warnings", weather.warnings()}};
    fmt::print("{}\n", report.dump(2));
    return;
  }
  fmt::print("{}: no faults; parts: {}, nets: {}, lines: {}; {} to {}\n", file, scenario.parts.size(),
             scenario.nets.size(), scenario.lines.size(), iso(scenario.from), iso(scenario.to));
  for (const std::string& f : findings) fmt::print("{}", note("Warning", f));
  for (const std::string& a : assumptions) fmt::print("{}", note("Assumed", a));
  for (const std::string& w : weather.warnings()) fmt::print("{}", note("Note", w));
}

int run(const std::string& file, ReplayOptions options, const std::string& every, const std::string& stepper,
        bool json) {
  TextFault why;
  const std::optional<double> seconds = parse_quantity("--every", every, unit_of<Duration>("min"), why);
  if (!seconds) throw option_fault("--every " + every, why.message, why.suggestion);
  if (!(*seconds >= 1 && *seconds <= 86400 * 366.0)) {
    throw option_fault("--every " + every, "rows of the trace can stand between 1 s and 366 days apart",
                       "such as --every \"10 min\"");
  }
  if (!std::isfinite(options.tolerance)) {
    throw option_fault("--tolerance", "it is no number between 1e-12 and 1e-2", "such as --tolerance 1e-8");
  }
  options.every = static_cast<Tick>(std::llround(*seconds * ticks_per_second));
  const std::vector<Stepping> known = {Stepping::phases, Stepping::reference};
  const auto chosen = std::find_if(known.begin(), known.end(), [&](Stepping s) { return name_of(s) == stepper; });
  if (chosen == known.end()) {
    throw option_fault("--stepper " + stepper, "there is no such stepper", "--stepper phases, or --stepper reference");
  }
  options.stepping = *chosen;
  ReplayResult result;
  {
    const Interruptible user;
    ProgressLine line;
    options.progress = [&](Tick reached, double share) {
      user.check();
      line.show(reached, share);
    };
    result = replay(file, options);
  }
  fmt::print("{}", json ? result.summary.dump(2) + "\n" : result_text(result.summary, result.folder));
  return result.survives == Held::yes ? 0 : exit_requirement;
}

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
      "  overwinter explain panel\n\n"
      "Exit codes: 0 ran and every requirement held, 1 ran and a requirement failed or stayed undecided,\n"
      "2 bad usage or input (nothing written), 3 the simulation could not be completed.");
  app.set_version_flag("--version", std::string("overwinter ") + OVERWINTER_VERSION);
  app.require_subcommand(1);

  ReplayOptions options;
  std::string file, every = "10 min", stepper = name_of(options.stepping), topic, weather;
  bool json = false;

  CLI::App* check_command = app.add_subcommand("check", "Read a scenario and report every fault with its place");
  check_command->add_option("FILE", file, "scenario file")->required();
  check_command->add_flag("--json", json, "machine-readable result on standard output");

  CLI::App* run_command = app.add_subcommand("run", "Replay the weather through the netlist and write the results");
  run_command->add_option("FILE", file, "scenario file")->required();
  run_command->add_option("--out", options.out, "folder for the results (default: out/ and the scenario file's name)");
  run_command->add_option("--weather", weather, "another station file: its weather, at its own place");
  run_command->add_option("--every", every, "distance of the trace's regular rows (default: 10 min)");
  run_command
      ->add_option("--tolerance", options.tolerance, "local error of the integration relative to each state's scale")
      ->check(CLI::Range(1e-12, 1e-2))
      ->capture_default_str();
  run_command->add_flag("--every-start", options.every_start,
                        "simulate every restart in vain, also where a reset loop has thousands of them");
  run_command->add_option("--stepper", stepper, "method of integration: phases, or reference, which is slower")
      ->capture_default_str();
  run_command->add_flag("--json", json, "print summary.json instead of the text");

  CLI::App* explain_command =
      app.add_subcommand("explain", "Tell a model's parameters, units, defaults, equations and sources");
  explain_command->add_option("MODEL", topic, "a model or part class; without it, the list of both");

  CLI::App* schema_command = app.add_subcommand("schema", "Print the JSON Schema of scenario files, for editors");

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? 0 : exit_input;
  }

  try {
    int code = 0;
    if (*check_command) check(file, json);
    if (*run_command) {
      if (!weather.empty()) options.weather = weather;
      code = run(file, options, every, stepper, json);
    }
    if (*explain_command) fmt::print("{}", explain(topic));
    if (*schema_command) fmt::print("{}\n", scenario_schema().dump(2));
    require_printed();
    return code;
  } catch (const InputError& e) {
    fmt::print(stderr, "{}\n", e.what());
    return exit_input;
  } catch (const Interrupted& e) {
    fmt::print(stderr, "overwinter: interrupted, nothing was written\n");
    std::fflush(stderr);
    return std::raise(e.signal);  // a shell is to see what ended the program
  } catch (const SimulationError& e) {
    fmt::print(stderr, "overwinter: the simulation could not be completed: {}\n", e.what());
    return exit_incomplete;
  } catch (const std::exception& e) {
    fmt::print(stderr, "overwinter: {}\n", e.what());
    return exit_incomplete;
  }
}
