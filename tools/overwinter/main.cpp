// The command line. Results go to standard output, messages and progress to standard error.
// Exit codes: 0 done; 1 a requirement failed or stayed undecided; 2 bad usage or input, nothing written; 3 the
// simulation could not be completed.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <csignal>
#include <cstdio>

#include "sim/netlist/explain.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/part_pairs.hpp"
#include "sim/netlist/schema.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/weather_json.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/usage.hpp"

namespace {

using namespace overwinter;

constexpr int exit_requirement = 1;
constexpr int exit_input = 2;
constexpr int exit_incomplete = 3;

/// The texts of the options of `run`.
struct RunTexts {
  std::string weather, every = "10 min", tolerance, stepper, solver;
};

/// The value of an option in SI. `example` is a value that it could have.
double option_value(const std::string& option, const std::string& text, const Unit& unit, double least, double most,
                    const std::string& example) {
  TextFault why;
  std::optional<double> si = parse_quantity(option, text, unit, why);
  const std::string place = option + " '" + text + "'", suggestion = option + " " + example;
  if (!si)
    throw option_fault(place, why.message,
                       why.suggestion.empty() ? suggestion : option + " \"" + why.suggestion + "\"");
  const std::string fault = range_fault(option, *si, Limit{least, false}, Limit{most, false}, unit);
  if (!fault.empty()) throw option_fault(place, fault, suggestion);
  return *si;
}

/// The one of `known` that has the name, which an option of that name asks for.
template <class Choice>
Choice named(const std::string& option, const std::string& name, const std::vector<Choice>& known) {
  std::vector<std::string> names;
  for (const Choice one : known) {
    if (name_of(one) == name) return one;
    names.push_back(name_of(one));
  }
  const std::string near = nearest(name, names), set = "--" + option + " ";
  throw option_fault(set + "'" + name + "'", "there is no such " + option,
                     set + (near.empty() ? names.front() + ", or " + set + names.back() : near));
}

void require_text(const CLI::Option& option, const std::string& what, const std::string& text,
                  const std::string& suggestion) {
  if (option.count() > 0 && text.empty()) {
    throw option_fault(option.get_name(), "the name of the " + what + " is empty", suggestion);
  }
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
                                           {"weather", weather_json(weather)},
                                           {"warnings", weather.warnings()}};
    fmt::print("{}\n", report.dump(2));
    return;
  }
  fmt::print("{}: no faults; parts: {}, nets: {}, lines: {}; {} to {}\n", file, scenario.parts.size(),
             scenario.nets.size(), scenario.lines.size(), iso(scenario.from), iso(scenario.to));
  fmt::print("{}", weather_text(weather_json(weather)));
  for (const std::string& f : findings) fmt::print("{}", note("Warning", f));
  for (const std::string& a : assumptions) fmt::print("{}", note("Assumed", a));
  for (const std::string& w : weather.warnings()) fmt::print("{}", note("Note", w));
}

int run(const std::string& file, ReplayOptions options, const RunTexts& texts, bool json) {
  const double seconds = option_value("--every", texts.every, unit_of<Duration>("min"), 1, 86400 * 366.0, "\"10 min\"");
  options.every = static_cast<Tick>(std::llround(seconds * ticks_per_second));
  options.tolerance = option_value("--tolerance", texts.tolerance, unit_of<double>("1"), 1e-12, 1e-2, "1e-8");
  options.stepping = named("stepper", texts.stepper, std::vector{Stepping::phases, Stepping::reference});
  options.elimination = named("solver", texts.solver, std::vector{Elimination::compiled, Elimination::dense});
  if (!texts.weather.empty()) options.weather = texts.weather;
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
  RunTexts texts;
  texts.tolerance = fmt::format("{:g}", options.tolerance);
  texts.stepper = name_of(options.stepping);
  texts.solver = name_of(options.elimination);
  std::string file, topic;
  bool json = false;

  CLI::App* check_command = app.add_subcommand("check", "Read a scenario and report every fault with its place");
  const CLI::Option* check_file = check_command->add_option("FILE", file, "scenario file")->required();
  check_command->add_flag("--json", json, "machine-readable result on standard output")->disable_flag_override();

  CLI::App* run_command = app.add_subcommand("run", "Replay the weather through the netlist and write the results");
  const CLI::Option* run_file = run_command->add_option("FILE", file, "scenario file")->required();
  const CLI::Option* out =
      run_command
          ->add_option("--out", options.out, "folder for the results (default: out/ and the scenario file's name)")
          ->type_name("FOLDER");
  const CLI::Option* weather =
      run_command
          ->add_option(
              "--weather", texts.weather,
              "another weather file: STATION.epw at its own place; or a CSV file, with the columns and at the site "
              "of the scenario")
          ->type_name("FILE");
  run_command->add_option("--every", texts.every, "distance of the trace's regular rows (default: 10 min)")
      ->type_name("TIME");
  run_command
      ->add_option("--tolerance", texts.tolerance, "local error of the integration relative to each state's scale")
      ->type_name("NUMBER")
      ->capture_default_str();
  run_command
      ->add_flag("--every-start", options.every_start,
                 "simulate every restart in vain, also where a reset loop has thousands of them")
      ->disable_flag_override();
  run_command->add_option("--stepper", texts.stepper, "method of integration: phases, or reference, which is slower")
      ->type_name("NAME")
      ->capture_default_str();
  run_command
      ->add_option("--solver", texts.solver,
                   "elimination in the network's equations: compiled from the wiring, or dense, which is slower")
      ->type_name("NAME")
      ->capture_default_str();
  run_command->add_flag("--json", json, "print summary.json instead of the text")->disable_flag_override();

  CLI::App* explain_command =
      app.add_subcommand("explain", "Tell a model's parameters, units, defaults, equations and sources");
  const CLI::Option* explained =
      explain_command->add_option("MODEL", topic, "a model or part class; without it, the list of both");

  CLI::App* schema_command = app.add_subcommand("schema", "Print the JSON Schema of scenario files, for editors");

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) return app.exit(e);
    fmt::print(stderr, "{}\n", usage_error(app, e).what());
    return exit_input;
  }

  try {
    int code = 0;
    for (const CLI::Option* option : {check_file, run_file})
      require_text(*option, "scenario file", file, "scenarios/peat-bog.yaml");
    require_text(*out, "folder for the results", options.out, "--out FOLDER");
    require_text(*weather, "weather file", texts.weather, "--weather FILE");
    require_text(*explained, "model or part class", topic, "`overwinter explain` without a name lists them");
    if (*check_command) check(file, json);
    if (*run_command) code = run(file, options, texts, json);
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
