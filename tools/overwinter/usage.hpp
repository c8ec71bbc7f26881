// What is wrong about a command line, in the form of all other messages.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "sim/input_error.hpp"

namespace overwinter {

/// The command line behind the program's name. A scenario that stands behind weather files, of which there may be any
/// number, is put before them.
std::vector<std::string> arguments(int argc, char** argv);

/// A fault with a suggestion for what the parser refused.
InputError usage_error(const CLI::App&, const CLI::ParseError&);

/// A fault about a value that the parser let pass.
InputError option_fault(const std::string& option, const std::string& message, const std::string& suggestion);

}  // namespace overwinter
