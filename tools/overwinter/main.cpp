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
#include "sim/netlist/fault_section.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/files.hpp"
#include "sim/netlist/review/review.hpp"
#include "sim/netlist/schema.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/replay/replay.hpp"
#include "sim/replay/weather_json.hpp"
#include "sim/revive/revive.hpp"
#include "sim/revive/revive_tables.hpp"
#include "sim/text.hpp"
#include "sim/why/why.hpp"
#include "sim/zoom/zoom.hpp"
#include "sim/zoom/zoom_files.hpp"
#include "tools/overwinter/ensemble_text.hpp"
#include "tools/overwinter/revive_text.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/usage.hpp"
#include "tools/overwinter/why_text.hpp"
#include "tools/overwinter/zoom_text.hpp"

namespace {

using namespace overwinter;

constexpr int exit_requirement = 1;
constexpr int exit_input = 2;
constexpr int exit_incomplete = 3;

/// The texts of the options of `run`.
struct RunTexts {
  std::vector<std::string> weather, faults, set;
  std::string every = "10 min", tolerance, stepper, solver, seeds, years, jobs, out;
};

/// The texts of the options of `zoom` that `run` has not.
struct ZoomTexts {
  std::string at, event, from, before, after;
  bool csv = false, vcd = false, html = false;
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

/// The scenario, with what --set gives in place of its values.
Scenario read(const std::string& file, const std::vector<std::string>& set) {
  std::vector<Override> overrides;
  for (const std::string& text : set) overrides.push_back(parse_override(text));
  return read_scenario(file, overrides);
}

void add_set(CLI::App& command, std::vector<std::string>& set) {
  command
      .add_option("--set", set,
                  "a value in place of the scenario's: PART.KEY=VALUE or SECTION.KEY=VALUE, written as in the file; as "
                  "often as wanted")
      ->type_name("PATH=VALUE")
      ->allow_extra_args(false);
}

void check(const std::string& file, const std::vector<std::string>& set, bool json) {
  const Scenario scenario = read(file, set);
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
                                           {"warnings", weather.warnings()},
                                           {"overrides", scenario.overrides}};
    fmt::print("{}\n", report.dump(2));
    return;
  }
  fmt::print("{}: no faults; parts: {}, nets: {}, lines: {}; {} to {}\n", file, scenario.parts.size(),
             scenario.nets.size(), scenario.lines.size(), iso(scenario.from), iso(scenario.to));
  fmt::print("{}", overrides_text({{"overrides", scenario.overrides}}));
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
  Scenario scenario = read(file, texts.set);
  add_faults(scenario, texts.faults);
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

/// A fault of a text, as one of an option.
InputError text_fault(const std::string& option, const std::string& text, const TextFault& why) {
  return option_fault(option + " " + in_quotes(text), why.message, why.suggestion);
}

Tick window_length(const char* option, const std::string& text, const char* example) {
  constexpr double longest = 3600;
  const double seconds = option_value(option, text, unit_of<Duration>("ms"), 0, longest, example);
  return static_cast<Tick>(std::llround(seconds * ticks_per_second));
}

ZoomRequest zoom_request(const ZoomTexts& texts, const MomentSpan& span) {
  ZoomRequest request;
  TextFault why;
  if (!texts.at.empty()) {
    const auto moment = parse_moment(texts.at, span, why);
    if (!moment) throw text_fault("--at", texts.at, why);
    request.moment = *moment;
  } else {
    const auto event = parse_event_number(texts.event, why);
    if (!event) throw text_fault("--event", texts.event, why);
    request.moment = *event;
  }
  if (!texts.before.empty()) request.before = window_length("--before", texts.before, "\"1 ms\"");
  if (!texts.after.empty()) request.after = window_length("--after", texts.after, "\"4 ms\"");
  if (request.before + request.after == 0) {
    throw option_fault("--before " + in_quotes(texts.before), "the window has no length", "--before \"1 ms\"");
  }
  return request;
}

void require_one_moment(const ZoomTexts& texts) {
  const int moments = !texts.at.empty() + !texts.event.empty() + !texts.from.empty();
  if (moments != 1) {
    throw option_fault("overwinter zoom", moments == 0 ? "no moment is given" : "more than one moment is given",
                       "one of --at TIME, --event N and --from FILE");
  }
  if (!texts.from.empty() && !texts.before.empty()) {
    throw option_fault("--before " + in_quotes(texts.before), "what is before the moment stands in the file",
                       "--from FILE without --before");
  }
}

/// What the file of --from holds.
std::string saved_moment(const std::string& path) {
  std::string why;
  const std::optional<std::string> text = read_file(path, why);
  if (text) return *text;
  const std::string near = nearest_file(path);
  throw option_fault("--from " + in_quotes(path), "the file " + why,
                     near.empty() ? "moment.json in the folder of a zoom" : "--from " + in_shell(near));
}

void zoom(const std::string& file, const RunTexts& texts, const ZoomTexts& zoomed, RunOptions options, bool json) {
  require_one_moment(zoomed);
  Axes axes;
  axes.weather = texts.weather;
  axes.seeds = numbers("--seeds", texts.seeds, 0, last_seed);
  axes.years = numbers("--years", texts.years, first_year, last_year);
  Scenario scenario = read(file, texts.set);
  add_faults(scenario, texts.faults);
  const std::vector<Member> members = members_of(scenario, axes);
  if (members.size() > 1) {
    throw option_fault("overwinter zoom", fmt::format("these are {} runs, and a zoom looks into one", members.size()),
                       "a single weather file, seed and year");
  }
  const Member& member = members.front();
  const DaySpan span = span_in(scenario, member.year);
  scenario.from = span.from;
  scenario.to = span.to;
  std::optional<std::uint64_t> seed;
  if (member.seed) seed = *member.seed;
  const Weather weather = WeatherInput(scenario, member.weather, {span}).over(span, seed);
  const Tick offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si() * ticks_per_second));
  std::string saved;
  std::optional<Tick> after;
  ZoomRequest request;
  if (zoomed.from.empty()) {
    request = zoom_request(zoomed, {weather.begin(), weather.end(), offset});
  } else {
    saved = saved_moment(zoomed.from);
    if (!zoomed.after.empty()) after = window_length("--after", zoomed.after, "\"4 ms\"");
  }
  ZoomForms forms{zoomed.csv, zoomed.vcd, zoomed.html};
  if (!zoomed.csv && !zoomed.vcd && !zoomed.html) forms = {};

  const std::string out = texts.out.empty() ? default_folder(scenario, "-zoom") : texts.out;
  RunFolder folder(out);
  const Diagram diagram(scenario);
  Zoom seen;
  {
    const Interruptible user;
    ProgressLine line;
    options.progress = [&](Tick reached, double share) {
      user.check();
      line.show(reached, share);
    };
    seen = zoomed.from.empty() ? zoom(scenario, weather, diagram, options, request)
                               : zoom_from(zoomed.from, saved, after, scenario, weather, diagram, options);
  }
  std::vector<std::string> files = write_zoom(seen.waveforms, forms, folder);
  folder.write("moment.json", seen.moment);
  files.push_back("moment.json");
  folder.publish();
  fmt::print("{}", json ? zoom_json(seen.waveforms, out, files).dump(2) + "\n" : zoom_text(seen.waveforms, out, files));
}

/// Prints the result. The scenario of `members` is one run.
int tell_why(const std::string& file, const RunTexts& texts, const std::string& brownout, bool all, bool json,
             const std::string& given) {
  WhyOptions options;
  options.jobs = jobs(texts.jobs);
  options.all = all;
  if (!brownout.empty()) {
    TextFault unused;
    const std::optional<int> n = parse_count("--brownout", brownout, unused);
    if (!n || *n < 1) {
      throw option_fault("--brownout " + in_quotes(brownout), "brown-outs are counted from 1", "--brownout 1");
    }
    if (all) throw option_fault("--brownout " + brownout, "--all tells all of them already", "one of the two");
    options.brownout = static_cast<std::size_t>(*n);
  }
  Axes axes;
  axes.weather = texts.weather;
  axes.seeds = numbers("--seeds", texts.seeds, 0, last_seed);
  axes.years = numbers("--years", texts.years, first_year, last_year);
  Scenario scenario = read(file, texts.set);
  const std::vector<Member> members = members_of(scenario, axes);
  if (members.size() > 1) {
    throw option_fault("overwinter why", "these are " + std::to_string(members.size()) + " runs, and it tells of one",
                       "one weather file, one seed, one year");
  }
  const Member& member = members.front();
  const DaySpan span = span_in(scenario, member.year);
  scenario.from = span.from;
  scenario.to = span.to;
  const auto seed = member.seed ? std::optional<std::uint64_t>(static_cast<std::uint64_t>(*member.seed)) : std::nullopt;
  const Weather weather = WeatherInput(scenario, member.weather, {span}).over(span, seed);
  nlohmann::ordered_json result;
  {
    const Interruptible user;
    ProgressLine line;
    options.progress = [&](const std::string& doing, double share) {
      user.check();
      line.show(doing, share);
    };
    result = why(scenario, weather, options);
  }
  fmt::print("{}", json ? result.dump(2) + "\n"
                        : why_text(result, "overwinter run " + in_shell(file) + options_of(member) + given));
  return 0;
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
    if (option->get_items_expected_max() == 0) {
      text += " " + name;
      continue;
    }
    for (const std::string& value : option->results()) text += " " + name + " " + in_shell(value);
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

  add_set(*check_command, texts.set);

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
  add_set(*run_command, texts.set);
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
  run_command
      ->add_option(
          "--fault", texts.faults,
          "a fault of a part for a time, beside the scenario's: \"PART KIND [by, times or phase VALUE] [at TIME] "
          "[for TIME]\", such as \"panel-south soiled by 60 % at 2025-01-10 06:00 for 5 d\"; may be given again. "
          "`overwinter explain faults` lists the kinds")
      ->type_name("FAULT")
      ->allow_extra_args(false);
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
  run_command
      ->add_flag_callback(
          "--no-zoom", [&options] { options.look_closer = false; },
          "do not look into switch-ons and bursts whose worst case is thin")
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

  CLI::App* why_command = app.add_subcommand(
      "why", "Tell why an instrument browned out, and the smallest single change that would have avoided it");
  const CLI::Option* why_file = why_command->add_option("FILE", file, "scenario file")->required();
  std::string brownout;
  bool all = false;
  const CLI::Option* brownout_option =
      why_command
          ->add_option("--brownout", brownout,
                       "the N-th brown-out of the run, counted from 1 (default: the first of each cause)")
          ->type_name("N");
  why_command->add_flag("--all", all, "every brown-out of the run")->disable_flag_override();
  add_set(*why_command, texts.set);
  const CLI::Option* why_weather =
      why_command->add_option("--weather", texts.weather, "another weather file, as for run")
          ->type_name("FILE")
          ->expected(1);
  const CLI::Option* why_seeds =
      why_command->add_option("--seeds", texts.seeds, "another seed of synthetic weather")->type_name("N");
  const CLI::Option* why_years =
      why_command->add_option("--years", texts.years, "another year in which the span is to begin")->type_name("YEAR");
  const CLI::Option* why_jobs =
      why_command->add_option("--jobs", texts.jobs, "worker processes (default: one a processor)")->type_name("NUMBER");
  why_command->add_flag("--json", json, "machine-readable result on standard output")->disable_flag_override();
  why_command->footer(
      "Examples:\n"
      "  overwinter why scenarios/peat-bog.yaml                      the first brown-out of each cause\n"
      "  overwinter why scenarios/peat-bog.yaml --brownout 2         a certain one\n"
      "  overwinter why scenarios/snow-stake.yaml --seeds 50         of a member of an ensemble\n"
      "  overwinter why scenarios/peat-bog.yaml --set 'cell.capacity=6 Ah'     after a change\n\n"
      "A brown-out counts as avoided if none begins in its place until the light is back: to the end of the first "
      "sunny\n"
      "day after it and its relapses. Each change was replayed, and so was 95 % of it, which does not do.\n"
      "Exit codes: 0 told, 2 bad usage or input, 3 the simulation could not be completed.");
  ZoomTexts zoomed;
  CLI::App* zoom_command =
      app.add_subcommand("zoom", "Look at one moment of a run: every net and line, to the microsecond");
  const CLI::Option* zoom_file = zoom_command->add_option("FILE", file, "scenario file")->required();
  add_set(*zoom_command, texts.set);
  const CLI::Option* at =
      zoom_command
          ->add_option(
              "--at", zoomed.at,
              "the moment: YYYY-MM-DD hh:mm:ss on the site's standard time, or with Z in UTC, as in events.csv")
          ->type_name("TIME");
  const CLI::Option* event =
      zoom_command
          ->add_option("--event", zoomed.event, "or its number: a row of events.csv, or B1 for the first brown-out")
          ->type_name("N");
  const CLI::Option* zoom_from_option =
      zoom_command
          ->add_option("--from", zoomed.from,
                       "or moment.json of an earlier zoom: begins there without the replay, also with other values in "
                       "FILE; the same --weather, --seeds and --years as then")
          ->type_name("FILE");
  const CLI::Option* zoom_before =
      zoom_command->add_option("--before", zoomed.before, "length of the window before the moment (default: 1 ms)")
          ->type_name("TIME");
  const CLI::Option* zoom_after =
      zoom_command
          ->add_option("--after", zoomed.after, "length of the window after it (default: 4 ms, or as the file says)")
          ->type_name("TIME");
  zoom_command->add_flag("--csv", zoomed.csv, "write a table; without --csv, --vcd and --html all three are written")
      ->disable_flag_override();
  zoom_command->add_flag("--vcd", zoomed.vcd, "write a value change dump, for any wave viewer")
      ->disable_flag_override();
  zoom_command->add_flag("--html", zoomed.html, "write a page with the courses drawn")->disable_flag_override();
  const CLI::Option* zoom_out =
      zoom_command
          ->add_option("--out", texts.out, "folder for the results (default: out/, the scenario file's name and -zoom)")
          ->type_name("FOLDER");
  const CLI::Option* zoom_weather =
      zoom_command->add_option("--weather", texts.weather, "another weather file, as with run")->type_name("FILE");
  const CLI::Option* zoom_seeds =
      zoom_command->add_option("--seeds", texts.seeds, "seed of synthetic weather, as with run")->type_name("NUMBER");
  const CLI::Option* zoom_years =
      zoom_command->add_option("--years", texts.years, "year in which the span is to begin, as with run")
          ->type_name("YEAR");
  zoom_command
      ->add_flag("--every-start", options.every_start,
                 "simulate every restart in vain, as with run: more rows in events.csv")
      ->disable_flag_override();
  zoom_command->add_flag("--json", json, "machine-readable result on standard output")->disable_flag_override();
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
    for (const CLI::Option* option : {check_file, run_file, why_file, zoom_file, revive_file})
      require_text(*option, "scenario file", file, "scenarios/peat-bog.yaml");
    for (const CLI::Option* option : {out, zoom_out}) {
      require_text(*option, "folder for the results", texts.out, "--out FOLDER");
    }
    for (const std::string& name : texts.weather) {
      for (const CLI::Option* option : {weather, zoom_weather})
        require_text(*option, "weather file", name, "--weather FILE");
    }
    require_value(*seeds, texts.seeds, "--seeds 1..50");
    require_value(*years, texts.years, "--years 2005..2014");
    require_value(*zoom_seeds, texts.seeds, "--seeds 7");
    require_value(*zoom_years, texts.years, "--years 2009");
    require_value(*at, zoomed.at, "--at \"2024-12-28 18:25:43\"");
    require_value(*event, zoomed.event, "--event B1");
    require_value(*zoom_from_option, zoomed.from, "--from out/peat-bog-zoom/moment.json");
    require_value(*zoom_before, zoomed.before, "--before \"1 ms\"");
    require_value(*zoom_after, zoomed.after, "--after \"4 ms\"");
    require_value(*jobs_option, texts.jobs, "--jobs 2");
    require_value(*brownout_option, brownout, "--brownout 1");
    for (const std::string& name : texts.weather) require_text(*why_weather, "weather file", name, "--weather FILE");
    require_value(*why_seeds, texts.seeds, "--seeds 7");
    require_value(*why_years, texts.years, "--years 2009");
    require_value(*why_jobs, texts.jobs, "--jobs 2");
    require_text(*explained, "model or part class", topic, "`overwinter explain` without a name lists them");
    if (*check_command) check(file, texts.set, json);
    if (*run_command)
      code = run(file, texts, options, json,
                 given_options(*run_command, {"--set", "--fault", "--every", "--tolerance", "--stepper", "--solver",
                                              "--every-start", "--no-zoom"}));
    if (*why_command) {
      code = tell_why(file, texts, brownout, all, json, given_options(*why_command, {"--set"}));
    }
    if (*zoom_command) zoom(file, texts, zoomed, options, json);
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
