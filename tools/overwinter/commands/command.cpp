#include "tools/overwinter/commands/command.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "tools/overwinter/commands/option_values.hpp"
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

void Command::add_engine(const EngineOptions& usual) {
  tolerance_ = fmt::format("{:g}", usual.tolerance);
  stepper_ = name_of(usual.stepping);
  solver_ = name_of(usual.elimination);
  parser_.add_option("--tolerance", tolerance_, "local error of the integration relative to each state's scale")
      ->type_name("NUMBER")
      ->capture_default_str();
  flag("--every-start", every_start_, "simulate every restart in vain, also where a reset loop has thousands of them");
  flag("--no-zoom", no_zoom_, "do not look into switch-ons and bursts whose worst case is thin");
  parser_.add_option("--stepper", stepper_, "method of integration: phases, or reference, which is slower")
      ->type_name("NAME")
      ->capture_default_str();
  parser_
      .add_option("--solver", solver_,
                  "elimination in the network's equations: compiled from the wiring, or dense, which is slower")
      ->type_name("NAME")
      ->capture_default_str();
}

EngineOptions Command::engine() const {
  EngineOptions wanted;
  wanted.tolerance = option_value("--tolerance", tolerance_, unit_of<double>("1"), 1e-12, 1e-2, "1e-8");
  wanted.every_start = every_start_;
  wanted.look_closer = !no_zoom_;
  wanted.stepping = named("stepper", stepper_, std::vector{Stepping::phases, Stepping::reference});
  wanted.elimination = named("solver", solver_, std::vector{Elimination::compiled, Elimination::dense});
  if (!limit_.empty()) {
    constexpr double least = 0.1, most = 86400 * 366.0;
    wanted.limit = option_value("--limit", limit_, unit_of<Duration>("s"), least, most, "\"60 s\"");
  }
  return wanted;
}

void Command::add_limit(const std::string& of_what) {
  value("--limit", limit_,
        "processor time, such as \"60 s\", after which " + of_what +
            " is cut short: exit code 3, and what is known by then in NAME-partial (default: none)",
        "TIME", "--limit \"60 s\"");
}

std::string Command::given_alike() const {
  return given_options(parser_,
                       {"--set", "--fault", "--tolerance", "--stepper", "--solver", "--every-start", "--no-zoom"});
}

void Command::add_json(const std::string& help) { flag("--json", json_, help); }

}  // namespace overwinter
