// The command line. Results go to standard output, messages and progress to standard error.
// Exit codes: 0 done; 1 a requirement failed or stayed undecided; 2 bad usage or input, nothing written; 3 the
// simulation could not be completed.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cctype>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <thread>

#include "sim/ensemble/ensemble.hpp"
#include "sim/ensemble/number_list.hpp"
#include "sim/netlist/date_text.hpp"
#include "sim/netlist/explain.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/review/review.hpp"
#include "sim/netlist/schema.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/weather_json.hpp"
#include "sim/revive/revive.hpp"
#include "sim/revive/revive_tables.hpp"
#include "sim/text.hpp"
#include "tools/overwinter/ensemble_text.hpp"
#include "tools/overwinter/revive_text.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/usage.hpp"

namespace {

using namespace overwinter;

constexpr int exit_requirement = 1;
constexpr int exit_input = 2;
constexpr int exit_incomplete = 3;

/// The texts of the options of `run`.
struct RunTexts {
  std::vector<std::string> weather;
  std::string every = "10 min", tolerance, stepper, solver, seeds, years, jobs, out;
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

void require_value(const CLI::Option& option, const std::string& text, const std::string& suggestion) {
  if (option.count() > 0 && text.empty()) throw option_fault(option.get_name(), "the value is empty", suggestion);
}

void check(const std::string& file, bool json) {
  const Scenario scenario = read_scenario(file);
  const Weather weather = weather_of(scenario, std::nullopt);
  std::vector<std::string> assumptions;
  for (const ScenarioPart& part : scenario.parts) {
    for (const std::string& a : part.model->assumptions()) assumptions.push_back(part.name + ": " + a);
  }
  const std::vector<DesignFinding> findings = review(scenario);
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
  for (const DesignFinding& f : findings) fmt::print("{}", note("Warning", sentence(f)));
  for (const std::string& a : assumptions) fmt::print("{}", note("Assumed", a));
  for (const std::string& w : weather.warnings()) fmt::print("{}", note("Note", w));
}

std::vector<int> numbers(const std::string& option, const std::string& text, int least, int most) {
  if (text.empty()) return {};
  TextFault why;
  const auto all = parse_number_list(text, least, most, why);
  if (!all) {
    const bool is_list = std::isdigit(static_cast<unsigned char>(why.suggestion.front())) != 0;
    throw option_fault(option + " " + in_quotes(text), why.message, (is_list ? option + " " : "") + why.suggestion);
  }
  return *all;
}

std::size_t jobs(const std::string& text) {
  if (text.empty()) return std::max(1u, std::thread::hardware_concurrency());
  constexpr int most_jobs = 1024;
  TextFault why;
  const std::optional<int> n = parse_count("--jobs", text, why);
  if (n && *n >= 1 && *n <= most_jobs) return static_cast<std::size_t>(*n);
  throw option_fault("--jobs " + in_quotes(text),
                     "the number of workers must be from 1 to " + std::to_string(most_jobs),
                     "--jobs 2, or nothing for as many as there are processors");
}

/// Prints the result.
int run_one(const Scenario& scenario, const Member& member, ReplayOptions options, bool json) {
  options.weather = member.weather;
  if (member.seed) options.seed = *member.seed;
  options.year = member.year;
  ReplayResult result;
  {
    const Interruptible user;
    ProgressLine line;
    options.progress = [&](Tick reached, double share) {
      user.check();
      line.show(reached, share);
    };
    result = replay(scenario, options);
  }
  fmt::print("{}", json ? result.summary.dump(2) + "\n" : result_text(result.summary, result.folder));
  return result.survives == Held::yes ? 0 : exit_requirement;
}

/// Prints the result. `command`: a member's own, without what makes it that member.
int run_many(const Scenario& scenario, const std::vector<Member>& members, EnsembleOptions options, bool json,
             const std::string& command) {
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
  fmt::print("{}", json ? result.ensemble.dump(2) + "\n" : ensemble_text(result, command));
  complain(errors_text(result));
  return !result.complete ? exit_incomplete : result.held ? 0 : exit_requirement;
}

int run(const std::string& file, const RunTexts& texts, RunOptions options, bool json, const std::string& given) {
  const double seconds = option_value("--every", texts.every, unit_of<Duration>("min"), 1, 86400 * 366.0, "\"10 min\"");
  options.every = static_cast<Tick>(std::llround(seconds * ticks_per_second));
  options.tolerance = option_value("--tolerance", texts.tolerance, unit_of<double>("1"), 1e-12, 1e-2, "1e-8");
  options.stepping = named("stepper", texts.stepper, std::vector{Stepping::phases, Stepping::reference});
  options.elimination = named("solver", texts.solver, std::vector{Elimination::compiled, Elimination::dense});
  const std::size_t workers = jobs(texts.jobs);
  Axes axes;
  axes.weather = texts.weather;
  axes.seeds = numbers("--seeds", texts.seeds, 0, last_seed);
  axes.years = numbers("--years", texts.years, first_year, last_year);
  const Scenario scenario = read_scenario(file);
  const std::vector<Member> members = members_of(scenario, axes);
  if (members.size() == 1) {
    ReplayOptions one;
    static_cast<RunOptions&>(one) = options;
    one.out = texts.out;
    return run_one(scenario, members.front(), one, json);
  }
  EnsembleOptions many;
  static_cast<RunOptions&>(many) = options;
  many.out = texts.out;
  many.jobs = workers;
  return run_many(scenario, members, many, json, "overwinter run " + in_shell(file) + given);
}

/// The texts of the options of `revive`.
struct ReviveTexts {
  std::vector<std::string> suppose;
  std::string date, days, jobs, out;
};

/// Prints the result.
int revive_all(const std::string& file, const ReviveTexts& texts, bool fine, bool json) {
  ReviveOptions options;
  options.out = texts.out;
  options.jobs = jobs(texts.jobs);
  options.fine = fine;
  options.suppose = texts.suppose;
  if (!texts.date.empty()) {
    TextFault why;
    options.date = parse_date("--date", texts.date, why);
    if (!options.date) throw option_fault("--date " + in_quotes(texts.date), why.message, "--date 2025-01-15");
  }
  if (!texts.days.empty()) {
    TextFault why;
    options.days = parse_count("--days", texts.days, why);
    if (!options.days || *options.days < 1 || *options.days > most_revive_days) {
      throw option_fault("--days " + in_quotes(texts.days),
                         "the number of days must be from 1 to " + std::to_string(most_revive_days), "--days 5");
    }
  }
  const Scenario scenario = read_scenario(file);
  ReviveResult result;
  {
    const Interruptible user;
    ProgressLine line;
    options.watch = [&](const ReviveProgress& progress) {
      user.check();
      line.show(progress);
    };
    result = revive(scenario, options);
  }
  if (json) {
    nlohmann::ordered_json whole = result.summary;
    whole["states"] = states_json(result);
    fmt::print("{}\n", whole.dump(2));
  } else {
    fmt::print("{}", revive_text(result));
  }
  complain(revive_errors_text(result));
  return result.count(Fate::not_completed) > 0 ? exit_incomplete : result.count(Fate::trap) > 0 ? exit_requirement : 0;
}

/// Those of these options that were given, with their values, as a shell reads them.
std::string given_options(const CLI::App& command, const std::vector<std::string>& names) {
  std::string text;
  for (const std::string& name : names) {
    const CLI::Option* option = command.get_option(name);
    if (option->count() == 0) continue;
    text += " " + name;
    if (option->get_items_expected_max() > 0) text += " " + in_shell(option->results().front());
  }
  return text;
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
      "  overwinter run scenarios/peat-bog.yaml --weather stations/*.epw       one member for each file, side by side\n"
      "  overwinter run scenarios/snow-stake.yaml --seeds 1..50                one for each seed of synthetic weather\n"
      "  overwinter run mast.yaml --years 2005..2014 --jobs 4                  one for each year of a CSV record\n"
      "  overwinter revive scenarios/peat-bog.yaml                             does it come back when it has died?\n"
      "  overwinter explain panel\n\n"
      "Exit codes: 0 ran and every requirement held, 1 ran and a requirement failed or stayed undecided,\n"
      "2 bad usage or input (nothing written), 3 the simulation could not be completed. Of an ensemble: 0 every "
      "member\n"
      "held, 1 a member did not, 3 a member could not be completed (the others are written).");
  app.set_version_flag("--version", std::string("overwinter ") + OVERWINTER_VERSION);
  app.require_subcommand(1);

  RunOptions options;
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
          ->add_option("--out", texts.out,
                       "folder for the results (default: out/ and the scenario file's name; of several members, with "
                       "-ensemble behind it)")
          ->type_name("FOLDER");
  const CLI::Option* weather =
      run_command
          ->add_option(
              "--weather", texts.weather,
              "another weather file: STATION.epw at its own place; or a CSV file, with the columns and at the site "
              "of the scenario. Of several, each is a member of an ensemble")
          ->type_name("FILE")
          ->expected(1, -1);
  const CLI::Option* seeds =
      run_command
          ->add_option("--seeds", texts.seeds,
                       "seeds of synthetic weather, such as 1..50 or 3,7,9; each is a member of an ensemble")
          ->type_name("LIST");
  const CLI::Option* years =
      run_command
          ->add_option("--years", texts.years,
                       "years in which the span is to begin, such as 2005..2014; each is a member of an ensemble, "
                       "with each weather file or seed")
          ->type_name("LIST");
  const CLI::Option* jobs_option =
      run_command->add_option("--jobs", texts.jobs, "worker processes of an ensemble (default: one a processor)")
          ->type_name("NUMBER");
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
  run_command->add_flag("--json", json, "print summary.json, or ensemble.json, instead of the text")
      ->disable_flag_override();

  ReviveTexts revival;
  bool fine = false;
  CLI::App* revive_command =
      app.add_subcommand("revive", "Tell from which dead states the instrument comes back by itself");
  revive_command->footer(
      "Examples:\n"
      "  overwinter revive scenarios/peat-bog.yaml\n"
      "  overwinter revive scenarios/peat-bog.yaml --date 2025-01-15 --days 5 --fine\n"
      "  overwinter revive FILE --suppose \"clock coin cell=good\"      only states in which the coin cell is good\n"
      "  overwinter revive FILE --suppose dawn=clear --suppose \"charge=40 %\"\n\n"
      "A dead state is a combination of what the parts can be found in: the cell's charge, the protector's and the\n"
      "charger's latches, the clock's flag, alarm and coin cell, the controller, and what is left on its supply.\n"
      "Exit codes: 0 no traps, 1 a state is a trap, 2 bad usage or input (nothing written), 3 a state could not be\n"
      "completed. What is undecided (too little light, still charging) is no trap.");
  const CLI::Option* revive_file = revive_command->add_option("FILE", file, "scenario file")->required();
  const CLI::Option* revive_out =
      revive_command
          ->add_option("--out", revival.out,
                       "folder for the results (default: out/ and the scenario file's name, with -revive behind it)")
          ->type_name("FOLDER");
  const CLI::Option* date = revive_command
                                ->add_option("--date", revival.date,
                                             "day of the first dawn (default: the dullest day of the scenario's span)")
                                ->type_name("YYYY-MM-DD");
  const CLI::Option* days =
      revive_command
          ->add_option("--days", revival.days,
                       "within which the first wake must be completed (default: the scenario's sunny days, 3 where it "
                       "says nothing)")
          ->type_name("NUMBER");
  const CLI::Option* supposed =
      revive_command
          ->add_option("--suppose", revival.suppose, "only this value of what can vary; may be given several times")
          ->type_name("\"NAME=VALUE\"")
          ->expected(1)
          ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  const CLI::Option* revive_jobs =
      revive_command->add_option("--jobs", revival.jobs, "worker processes (default: one a processor)")
          ->type_name("NUMBER");
  revive_command->add_flag("--fine", fine, "more charges and dawns")->disable_flag_override();
  revive_command->add_flag("--json", json, "print revive.json with every state, instead of the text")
      ->disable_flag_override();

  CLI::App* explain_command =
      app.add_subcommand("explain", "Tell a model's parameters, units, defaults, equations and sources");
  const CLI::Option* explained =
      explain_command->add_option("MODEL", topic, "a model or part class; without it, the list of both");

  CLI::App* schema_command = app.add_subcommand("schema", "Print the JSON Schema of scenario files, for editors");

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
    for (const CLI::Option* option : {check_file, run_file, revive_file})
      require_text(*option, "scenario file", file, "scenarios/peat-bog.yaml");
    require_text(*out, "folder for the results", texts.out, "--out FOLDER");
    require_text(*revive_out, "folder for the results", revival.out, "--out FOLDER");
    require_value(*date, revival.date, "--date 2025-01-15");
    require_value(*days, revival.days, "--days 5");
    require_value(*revive_jobs, revival.jobs, "--jobs 2");
    for (const std::string& wish : revival.suppose) require_value(*supposed, wish, "--suppose \"NAME=VALUE\"");
    for (const std::string& name : texts.weather) require_text(*weather, "weather file", name, "--weather FILE");
    require_value(*seeds, texts.seeds, "--seeds 1..50");
    require_value(*years, texts.years, "--years 2005..2014");
    require_value(*jobs_option, texts.jobs, "--jobs 2");
    require_text(*explained, "model or part class", topic, "`overwinter explain` without a name lists them");
    if (*check_command) check(file, json);
    if (*run_command)
      code = run(file, texts, options, json,
                 given_options(*run_command, {"--every", "--tolerance", "--stepper", "--solver", "--every-start"}));
    if (*revive_command) code = revive_all(file, revival, fine, json);
    if (*explain_command) fmt::print("{}", explain(topic));
    if (*schema_command) fmt::print("{}\n", scenario_schema().dump(2));
    require_printed();
    return code;
  } catch (const InputError& e) {
    complain(fmt::format("{}\n", e.what()));
    return exit_input;
  } catch (const Interrupted& e) {
    complain("overwinter: interrupted, nothing was written\n");
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
