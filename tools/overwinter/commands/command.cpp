#include "tools/overwinter/commands/command.hpp"

#include <algorithm>

#include "tools/overwinter/usage.hpp"

namespace overwinter {

Command::Command(CLI::App& program, const std::string& name, const std::string& description)
    : parser_(*program.add_subcommand(name, description)) {}

int Command::run() {
  for (const Requirement& r : requirements_) {
    const std::vector<std::string> given = r.option->results();
    if (std::find(given.begin(), given.end(), "") != given.end()) {
      throw option_fault(r.option->get_name(), r.fault, r.suggestion);
    }
  }
  return work();
}

void Command::require(const CLI::Option* option, const std::string& fault, const std::string& suggestion) {
  requirements_.push_back({option, fault, suggestion});
}

CLI::Option* Command::value(const std::string& name, std::string& text, const std::string& help,
                            const std::string& type, const std::string& example) {
  CLI::Option* option = parser_.add_option(name, text, help)->type_name(type);
  require(option, "the value is empty", example);
  return option;
}

CLI::Option* Command::values(const std::string& name, std::vector<std::string>& texts, const std::string& help,
                             const std::string& type, const std::string& example) {
  CLI::Option* option = parser_.add_option(name, texts, help)->type_name(type)->allow_extra_args(false);
  require(option, "the value is empty", example);
  return option;
}

CLI::Option* Command::name_of_a(const std::string& what, const std::string& name, std::string& text,
                                const std::string& help, const std::string& type) {
  CLI::Option* option = parser_.add_option(name, text, help)->type_name(type);
  require(option, "the name of the " + what + " is empty", name + " " + type);
  return option;
}

void Command::flag(const std::string& name, bool& set, const std::string& help) {
  parser_.add_flag(name, set, help)->disable_flag_override();
}

void Command::add_file() {
  require(parser_.add_option("FILE", file_, "scenario file")->required(), "the name of the scenario file is empty",
          "scenarios/peat-bog.yaml");
}

void Command::add_changes() {
  values("--set", set_,
         "a value in place of the scenario's: PART.KEY=VALUE or SECTION.KEY=VALUE, written as in the file; as often as "
         "wanted",
         "PATH=VALUE", "--set 'cell.capacity=6 Ah'");
  parser_
      .add_option(
          "--fault", faults_,
          "a fault of a part for a time, beside the scenario's: \"PART KIND [by, times or phase VALUE] [at TIME] "
          "[for TIME]\", such as \"panel-south soiled by 60 % at 2025-01-10 06:00 for 5 d\"; may be given again. "
          "`overwinter explain faults` lists the kinds")
      ->type_name("FAULT")
      ->allow_extra_args(false);
}

void Command::add_json(const std::string& help) { flag("--json", json_, help); }

}  // namespace overwinter
