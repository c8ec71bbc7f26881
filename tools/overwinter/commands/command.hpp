// What the commands of the program have in common.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "sim/engine/engine_options.hpp"

namespace overwinter {

constexpr int exit_requirement = 1;
constexpr int exit_input = 2;
constexpr int exit_incomplete = 3;

/// One command: it adds its options to the parser, and does its work if it was chosen.
class Command {
 public:
  virtual ~Command() = default;
  Command(const Command&) = delete;
  Command& operator=(const Command&) = delete;

  bool chosen() const { return parser_.parsed(); }
  /// Does its work, prints the result, and returns the program's exit code. Throws InputError for a value without
  /// text and for all that is wrong with the input.
  int run();

 protected:
  Command(CLI::App& program, const std::string& name, const std::string& description);

  virtual int work() = 0;

  CLI::App& parser() { return parser_; }
  /// An option with a text, which is not to be empty. `type` is what the help calls its value, `example` one that would
  /// do: with the option's name where it has one.
  CLI::Option* value(const std::string& name, std::string& text, const std::string& help, const std::string& type,
                     const std::string& example);
  /// One that may be given again.
  CLI::Option* values(const std::string& name, std::vector<std::string>& texts, const std::string& help,
                      const std::string& type, const std::string& example);
  /// One whose text names `what`.
  CLI::Option* name_of_a(const std::string& what, const std::string& name, std::string& text, const std::string& help,
                         const std::string& type);
  void flag(const std::string& name, bool& set, const std::string& help);
  void require(const CLI::Option*, const std::string& fault_if_empty, const std::string& suggestion);

  /// FILE, the scenario file.
  void add_file();
  /// --set and --fault.
  void add_changes();
  /// How the engine is to run: --tolerance, --every-start, --no-zoom, --stepper, --solver.
  void add_engine(const EngineOptions& usual = {});
  EngineOptions engine() const;
  /// --limit, for engine().
  void add_limit(const std::string& of_what);
  /// Those that make the same scenario run in the same way: what was given of add_changes() and add_engine(), as a
  /// shell reads it.
  std::string given_alike() const;
  /// --json.
  void add_json(const std::string& help = "machine-readable result on standard output");

  std::string file_;
  std::vector<std::string> set_, faults_;
  bool json_ = false;

 private:
  struct Requirement {
    const CLI::Option* option;
    std::string fault, suggestion;
  };

  std::string tolerance_, stepper_, solver_, limit_;
  bool every_start_ = false, no_zoom_ = false;

  CLI::App& parser_;
  std::vector<Requirement> requirements_;
};

}  // namespace overwinter
