#include "tests/support/lengths.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <map>
#include <random>
#include <utility>

namespace overwinter::test {

namespace {

struct Told {
  std::vector<std::string> lines;
  std::map<std::string, std::string> skipped;  // test case, why
};

Told& told() {
  static Told one;
  return one;
}

void tell_drawn(const std::string& what, std::size_t some, std::size_t full) {
  const std::string line = "drawn: " + what + ": " + std::to_string(some) + " of " + std::to_string(full) + " cases";
  for (const std::string& known : told().lines) {
    if (known == line) return;  // a test case begins anew for each of its subcases
  }
  told().lines.push_back(line);
}

}  // namespace

bool long_run() {
  const char* const wish = std::getenv("OVERWINTER_LONG");
  return wish && std::string(wish) == "1";
}

std::vector<std::size_t> drawn(const std::string& what, std::size_t full, std::size_t few, std::uint32_t seed) {
  if (long_run() || few > full) few = full;
  std::mt19937 random(seed);
  std::vector<std::size_t> places;
  for (std::size_t stretch = 0; stretch < few; ++stretch) {
    const std::size_t begin = stretch * full / few, end = (stretch + 1) * full / few;
    places.push_back(begin + random() % (end - begin));
  }
  tell_drawn(what, few, full);
  return places;
}

std::size_t as_many(const std::string& what, std::size_t full, std::size_t few) {
  const std::size_t some = long_run() ? full : few;
  tell_drawn(what, some, full);
  return some;
}

void skip(const std::string& why) { told().skipped[doctest::getContextOptions()->currentTest->m_name] = why; }

bool only_long() {
  if (!long_run()) skip("only tools/test --long runs it");
  return long_run();
}

Closing take_closing() {
  const Told all = std::exchange(told(), {});
  Closing closing{all.lines, all.skipped.size()};
  for (const auto& [name, why] : all.skipped) closing.lines.push_back("skipped: " + name + ": " + why);
  return closing;
}

}  // namespace overwinter::test
