// The values of options, and what several commands make of them.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "sim/ensemble/ensemble.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"
#include "tools/overwinter/usage.hpp"

namespace overwinter {

/// The value of an option in SI. `example` is a value that it could have.
double option_value(const std::string& option, const std::string& text, const Unit& unit, double least, double most,
                    const std::string& example);

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

/// A list such as 1..50 or 3,7,9; nothing of an empty text.
std::vector<int> number_list(const std::string& option, const std::string& text, int least, int most);

/// Of --jobs; without a text as many as there are processors.
std::size_t worker_count(const std::string& text);

/// A fault of a text, as one of an option.
InputError text_fault(const std::string& option, const std::string& text, const TextFault& why);

/// The scenario of a file, with what --set gives in place of its values and --fault beside its faults.
Scenario read_changed(const std::string& file, const std::vector<std::string>& set,
                      const std::vector<std::string>& faults);

/// Those of these options that were given, with their values, as a shell reads them.
std::string given_options(const CLI::App& command, const std::vector<std::string>& names);

/// Which runs: the texts of --weather, --seeds and --years.
struct RunChoice {
  std::vector<std::string> weather;
  std::string seeds, years;

  std::vector<Member> members(const Scenario&) const;
};

/// The one run that a command looks into, with its weather.
struct OneRun {
  Scenario scenario;  // over the member's span
  Member member;
  Weather weather;
};

/// Throws InputError if the choice is of several runs; `command` is named then.
OneRun one_run(Scenario scenario, const RunChoice& choice, const std::string& command);

}  // namespace overwinter
