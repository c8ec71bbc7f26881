#include "sim/mechanisms/mechanisms.hpp"

#include <doctest/doctest.h>

#include <regex>
#include <set>
#include <stdexcept>

using namespace overwinter;

TEST_CASE("mechanisms: twenty-one ids in kebab-case, each with a sentence and what removes it") {
  const std::regex kebab("[a-z]+(-[a-z]+)*");
  std::set<std::string> ids;
  for (const Mechanism& m : mechanisms()) {
    CAPTURE(m.id);
    CHECK(std::regex_match(m.id, kebab));
    CHECK(ids.insert(m.id).second);
    CHECK(m.what.size() > 20);
    CHECK(m.what.back() != '.');
    CHECK_FALSE(m.removal.empty());
    CHECK(mechanisms()[rank_of_mechanism(m.id)].id == m.id);
  }
  CHECK(ids.size() == 21);
  CHECK_FALSE(ids.count(unexplained));
  CHECK_THROWS_AS(rank_of_mechanism(unexplained), std::logic_error);
}
