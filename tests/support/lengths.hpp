// Two lengths of test. `tools/test` takes seeded samples, `tools/test --long` (OVERWINTER_LONG=1) every case.
//
//   for (const std::size_t i : test::drawn("transient matrix", cases.size(), 58, 20261130)) check(cases[i]);
//
// What was drawn and what was skipped stands in the closing lines of each test program, which tools/test sums up.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace overwinter::test {

/// Whether every case is asked for.
bool long_run();

/// The places of the cases to be run out of `full`, in rising order: all of them in a long run, otherwise `few`. One is
/// drawn from each of `few` even stretches, so that an order by kinds keeps every kind. The same seed draws the same
/// places on every machine.
std::vector<std::size_t> drawn(const std::string& what, std::size_t full, std::size_t few, std::uint32_t seed);

/// How many cases are to be made where they come at random anyway: `full` in a long run, otherwise `few`.
std::size_t as_many(const std::string& what, std::size_t full, std::size_t few);

/// Counts the present test case as skipped; `why` names no folder of this machine. The case returns after it.
void skip(const std::string& why);

/// True in a long run. Otherwise the present test case counts as skipped, and returns after it.
bool only_long();

/// What a program's test cases drew and skipped.
struct Closing {
  std::vector<std::string> lines;
  std::size_t skipped = 0;  ///< test cases
};

/// Of all since the last call.
Closing take_closing();

}  // namespace overwinter::test
