// The commands of the program, in the order of its help.
#pragma once

#include <memory>
#include <vector>

#include "tools/overwinter/commands/command.hpp"

namespace overwinter {

std::unique_ptr<Command> check_command(CLI::App& program);
std::unique_ptr<Command> run_command(CLI::App& program);
std::unique_ptr<Command> why_command(CLI::App& program);
std::unique_ptr<Command> zoom_command(CLI::App& program);
std::unique_ptr<Command> revive_command(CLI::App& program);
std::unique_ptr<Command> explain_command(CLI::App& program);
std::unique_ptr<Command> schema_command(CLI::App& program);

}  // namespace overwinter
