// Every switch-on of the matrix with and without the closer look. Wherever the two tell another outcome of a wake, and
// in 30 drawn cases in which they tell the same, SUNDIALS CVODES (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31(3),
// 363-396) decides: the whole stiff system, every fast store integrated from before the alarm to after the wake. The
// closer look must tell what that does.
#include "tests/acceptance/support/switch_on_matrix.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "tests/support/lengths.hpp"

using namespace overwinter;

namespace {

constexpr std::size_t a_tenth = (test::switch_ons + 9) / 10, agreements = 30, few_agreements = 3;
constexpr std::uint32_t seed = 20261130;

bool all_completed(const std::vector<test::WakeOutcome>& wakes) {
  return wakes.size() == 10 && std::all_of(wakes.begin(), wakes.end(), [](const test::WakeOutcome& w) {
           return w.completed && w.failures.empty();
         });
}

}  // namespace

TEST_CASE("matrix of switch-ons: the closer look tells what the whole stiff system does") {
  const std::vector<std::size_t> places = test::drawn("matrix of switch-ons", test::switch_ons, a_tenth, seed);
  const std::size_t decided_agreements = places.size() == test::switch_ons ? agreements : few_agreements;
  std::size_t sound = 0, failing = 0, differing = 0;
  std::vector<std::size_t> same;
  std::string table(test::switch_ons, ' ');
  for (const std::size_t place : places) {
    const test::SwitchOn one = test::switch_on(place);
    CAPTURE(one.text());
    const test::MatrixBench bench(one);
    const std::vector<test::WakeOutcome> look = bench.wakes(true), none = bench.wakes(false);
    REQUIRE(look.size() == none.size());
    const auto apart = std::mismatch(look.begin(), look.end(), none.begin());
    table[place] = all_completed(look) ? '.' : 'x';
    ++(all_completed(look) ? sound : failing);
    if (apart.first == look.end()) {
      same.push_back(place);
      continue;
    }
    ++differing;
    const test::WakeOutcome truth = bench.integrated(apart.first->alarm);
    table[place] = all_completed(look) ? 'o' : 'X';
    CHECK_MESSAGE(*apart.first == truth, one.text(), "\n  looking closer: ", apart.first->text(),
                  "\n  without:        ", apart.second->text(), "\n  CVODES:         ", truth.text());
  }
  for (std::size_t i = 0; i < decided_agreements && !same.empty(); ++i) {
    const test::SwitchOn one = test::switch_on(same[i * same.size() / decided_agreements]);
    const test::MatrixBench bench(one);
    const test::WakeOutcome first = bench.wakes(true).front(), truth = bench.integrated(first.alarm);
    CHECK_MESSAGE(first == truth, one.text(), "\n  with and without looking closer: ", first.text(),
                  "\n  CVODES:                          ", truth.text());
  }
  MESSAGE(
      fmt::format("{} cells: {} sound, {} with failures; {} in which the closer look tells another outcome, each "
                  "decided by CVODES; so are {} of the others",
                  places.size(), sound, failing, differing, std::min(decided_agreements, same.size())));
  if (places.size() != test::switch_ons) return;
  // A row a store; in it a block a boot time, in that a letter a gate. '.' sound, 'x' fails; 'o' and 'X' likewise,
  // where the settled run tells otherwise.
  std::string text;
  for (std::size_t row = 0; row < test::switch_ons; row += test::boots * test::gates) {
    const test::SwitchOn one = test::switch_on(row);
    if (one.store == 0) text += "\n" + one.text().substr(0, one.text().find(", no store")) + "\n";
    const std::string name = one.text().substr(one.text().find(", ", one.text().find(", ") + 2) + 2);
    text += fmt::format("  {:9}", name.substr(0, name.find(',')));
    for (std::size_t b = 0; b < test::boots; ++b) text += " " + table.substr(row + b * test::gates, test::gates);
    text += "\n";
  }
  MESSAGE(text);
}
