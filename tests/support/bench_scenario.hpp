// The smallest sensible scenario, and ways to spoil it.
#pragma once

#include <doctest/doctest.h>

#include <string>
#include <utility>
#include <vector>

#include "sim/input_error.hpp"
#include "sim/netlist/scenario.hpp"
#include "tests/support/working_folder.hpp"

namespace overwinter::test {

inline const char* const bench_scenario =
    "scenario: bench supply of a small load\n"
    "span: {from: 2024-10-15, to: 2024-10-20}\n"
    "weather: {file: bog.epw}\n"
    "parts:\n"
    "  cell: {part: nmc-18650-3000mah, charge: 80 %}\n"
    "  drain: {model: resistor, resistance: 10 kohm}\n"
    "nets:\n"
    "  cell+: [cell.plus, drain.a]\n"
    "  gnd: [cell.minus, drain.b]\n";

/// What stands in the bench scenario, and what shall stand there instead.
using Edits = std::vector<std::pair<std::string, std::string>>;

inline std::string edited(const Edits& edits, std::string text = bench_scenario) {
  for (const auto& [from, to] : edits) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), to);
  }
  return text;
}

/// The whole message about bench.yaml with these edits, after a line end; empty if it is accepted.
inline std::string fault(const Edits& edits) {
  const WorkingFolder folder;
  folder.write("bog.epw", "");
  folder.write("bench.yaml", edited(edits));
  try {
    read_scenario("bench.yaml");
  } catch (const InputError& error) {
    for (const Fault& f : error.faults()) CHECK_MESSAGE(!f.suggestion.empty(), f.message);
    return std::string("\n") + error.what() + "\n";
  }
  return {};
}

}  // namespace overwinter::test
