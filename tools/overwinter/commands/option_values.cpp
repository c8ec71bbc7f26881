#include "tools/overwinter/commands/option_values.hpp"

#include <cctype>
#include <thread>

#include "sim/ensemble/number_list.hpp"
#include "sim/netlist/date_text.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/replay/replay.hpp"

namespace overwinter {

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

std::vector<int> number_list(const std::string& option, const std::string& text, int least, int most) {
  if (text.empty()) return {};
  TextFault why;
  const auto all = parse_number_list(text, least, most, why);
  if (!all) {
    const bool is_list = std::isdigit(static_cast<unsigned char>(why.suggestion.front())) != 0;
    throw option_fault(option + " " + in_quotes(text), why.message, (is_list ? option + " " : "") + why.suggestion);
  }
  return *all;
}

std::size_t worker_count(const std::string& text) {
  if (text.empty()) return std::max(1u, std::thread::hardware_concurrency());
  constexpr int most_jobs = 1024;
  TextFault why;
  const std::optional<int> n = parse_count("--jobs", text, why);
  if (n && *n >= 1 && *n <= most_jobs) return static_cast<std::size_t>(*n);
  throw option_fault("--jobs " + in_quotes(text),
                     "the number of workers must be from 1 to " + std::to_string(most_jobs),
                     "--jobs 2, or nothing for as many as there are processors");
}

InputError text_fault(const std::string& option, const std::string& text, const TextFault& why) {
  return option_fault(option + " " + in_quotes(text), why.message, why.suggestion);
}

Scenario read_changed(const std::string& file, const std::vector<std::string>& set,
                      const std::vector<std::string>& faults) {
  std::vector<Override> overrides;
  for (const std::string& text : set) overrides.push_back(parse_override(text));
  Scenario scenario = read_scenario(file, overrides);
  add_faults(scenario, faults);
  return scenario;
}

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

std::vector<Member> RunChoice::members(const Scenario& scenario) const {
  Axes axes;
  axes.weather = weather;
  axes.seeds = number_list("--seeds", seeds, 0, last_seed);
  axes.years = number_list("--years", years, first_year, last_year);
  return members_of(scenario, axes);
}

OneRun one_run(Scenario scenario, const RunChoice& choice, const std::string& command) {
  const std::vector<Member> members = choice.members(scenario);
  if (members.size() > 1) {
    throw option_fault("overwinter " + command,
                       "these are " + std::to_string(members.size()) + " runs, and it looks into one",
                       "one weather file, one seed, one year");
  }
  const Member& member = members.front();
  const DaySpan span = span_in(scenario, member.year);
  scenario.from = span.from;
  scenario.to = span.to;
  const auto seed = member.seed ? std::optional<std::uint64_t>(static_cast<std::uint64_t>(*member.seed)) : std::nullopt;
  Weather weather = WeatherInput(scenario, member.weather, {span}).over(span, seed);
  return {std::move(scenario), member, std::move(weather)};
}

}  // namespace overwinter
