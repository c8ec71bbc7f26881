#include "tools/overwinter/usage.hpp"

#include <algorithm>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/text.hpp"

namespace overwinter {
namespace {

bool is_option(const std::string& argument) { return argument.size() > 1 && argument[0] == '-'; }

bool is_scenario(const std::string& name) {
  const std::string ending = std::filesystem::path(name).extension().string();
  return ending == ".yaml" || ending == ".yml";
}

std::vector<std::string> option_names(const CLI::App& command) {
  std::vector<std::string> names;
  for (const CLI::Option* option : command.get_options()) {
    for (const std::string& name : option->get_lnames()) names.push_back("--" + name);
  }
  return names;
}

std::vector<const CLI::App*> commands(const CLI::App& program) {
  return program.get_subcommands([](const CLI::App*) { return true; });
}

class Usage {
 public:
  explicit Usage(const CLI::App& program) : program_(program) {
    const std::vector<CLI::App*> chosen = program.get_subcommands();
    if (!chosen.empty()) command_ = chosen.front();
  }

  InputError error(const CLI::ParseError& e) const {
    const std::vector<std::string> extra = program_.remaining(true);
    const auto unknown = std::find_if(extra.begin(), extra.end(), is_option);
    if (unknown != extra.end()) return unknown_option(unknown->substr(0, unknown->find('=')));
    if (!command_) return extra.empty() ? no_command() : unknown_command(extra.front());
    if (!extra.empty()) {
      return fault("'" + extra.front() + "' is one argument too many",
                   form() + (takes_values() ? "; a value with a blank needs quotes" : ""));
    }
    if (e.get_exit_code() == static_cast<int>(CLI::ExitCodes::RequiredError)) {
      return fault("the scenario file is missing", name() + " scenarios/peat-bog.yaml");
    }
    for (const CLI::Option* option : command_->get_options()) {
      const std::string text = e.what(), option_name = option->get_name();
      const bool flag = option->get_items_expected_max() == 0;
      if (text.find(flag ? option->get_lnames().front() : option_name + ":") != 0) continue;
      if (flag) return fault(option_name + " takes no value", option_name);
      if (option->count() > 1) return fault(option_name + " is given twice", "keep one of the two");
      return fault(option_name + " needs a value", option_name + " " + option->get_type_name());
    }
    return fault(e.what(), name() + " --help");
  }

 private:
  std::string name() const { return program_.get_name() + (command_ ? " " + command_->get_name() : ""); }

  /// "overwinter run FILE".
  std::string form() const {
    std::string text = name();
    for (const CLI::Option* option : command_->get_options()) {
      if (option->get_positional()) text += " " + option->get_name(true);
    }
    return text;
  }

  bool takes_values() const {
    const std::vector<const CLI::Option*> options = command_->get_options();
    return std::any_of(options.begin(), options.end(), [](const CLI::Option* option) {
      return !option->get_positional() && option->get_items_expected_max() > 0;
    });
  }

  InputError fault(const std::string& message, const std::string& suggestion) const {
    return option_fault(name(), message, suggestion);
  }

  InputError no_command() const { return fault("no command is given", name() + " run FILE, or " + name() + " --help"); }

  InputError unknown_command(const std::string& word) const {
    std::vector<std::string> names;
    for (const CLI::App* command : commands(program_)) names.push_back(command->get_name());
    const std::string near = suggested(word, names);
    return fault("there is no command " + in_quotes(word), is_scenario(word) ? name() + " run " + word
                                                           : near.empty()    ? "one of " + listed(names)
                                                                             : near);
  }

  InputError unknown_option(const std::string& option) const {
    const std::vector<std::string> names = option_names(command_ ? *command_ : program_);
    std::string suggestion = suggested(option, names);
    for (const CLI::App* other : commands(program_)) {
      const std::vector<std::string> its = option_names(*other);
      if (suggestion.empty() && std::count(its.begin(), its.end(), option)) {
        suggestion = program_.get_name() + " " + other->get_name() + ", which has it";
      }
    }
    return fault("there is no option " + in_quotes(option),
                 suggestion.empty() ? "one of " + listed(names) : suggestion);
  }

  const CLI::App& program_;
  const CLI::App* command_ = nullptr;
};

}  // namespace

std::vector<std::string> arguments(int argc, char** argv) {
  std::vector<std::string> all;
  std::optional<std::size_t> weather;  // where the option stands to which names belong
  for (int i = 1; i < argc; ++i) {
    const std::string argument = argv[i];
    if (is_option(argument)) {
      weather = argument == "--weather" ? std::optional(all.size()) : std::nullopt;
    } else if (weather && is_scenario(argument)) {
      all.insert(all.begin() + static_cast<std::ptrdiff_t>(*weather), argument);
      ++*weather;
      continue;
    }
    all.push_back(argument);
  }
  return all;
}

InputError usage_error(const CLI::App& program, const CLI::ParseError& e) { return Usage(program).error(e); }

InputError option_fault(const std::string& option, const std::string& message, const std::string& suggestion) {
  Fault fault;
  fault.place.file = option;
  fault.message = message;
  fault.suggestion = suggestion;
  return InputError({fault});
}

}  // namespace overwinter
