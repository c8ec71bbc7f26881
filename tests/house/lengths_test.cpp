#include "tests/support/lengths.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <set>

namespace overwinter {

namespace {

/// The length of test as a person asks for it, and the former one after it.
class Length {
 public:
  explicit Length(const char* wish) : former_(std::getenv("OVERWINTER_LONG")) {
    if (former_) kept_ = former_;
    setenv("OVERWINTER_LONG", wish, 1);
  }
  ~Length() {
    if (former_) {
      setenv("OVERWINTER_LONG", kept_.c_str(), 1);
    } else {
      unsetenv("OVERWINTER_LONG");
    }
  }

 private:
  const char* former_;
  std::string kept_;
};

}  // namespace

TEST_CASE("a sample draws one case of every stretch, and other ones with another seed") {
  const Length shorter("0");
  const auto places = test::drawn("sample of lengths", 576, 58, 1);
  REQUIRE(places.size() == 58);
  for (std::size_t i = 0; i < 58; ++i) {
    CHECK(places[i] >= i * 576 / 58);
    CHECK(places[i] < (i + 1) * 576 / 58);
  }
  CHECK(places == test::drawn("sample of lengths", 576, 58, 1));
  CHECK(places != test::drawn("sample of lengths", 576, 58, 2));
  CHECK(test::as_many("making of lengths", 100, 10) == 10);
  CHECK(test::take_closing().lines == std::vector<std::string>{"drawn: sample of lengths: 58 of 576 cases",
                                                               "drawn: making of lengths: 10 of 100 cases"});
}

TEST_CASE("a sample of more than there are is all of them") {
  const Length shorter("0");
  CHECK(test::drawn("small set", 3, 10, 1) == std::vector<std::size_t>{0, 1, 2});
  CHECK(test::take_closing().lines == std::vector<std::string>{"drawn: small set: 3 of 3 cases"});
}

TEST_CASE("a long run draws every case") {
  const Length longer("1");
  CHECK(test::long_run());
  CHECK(test::only_long());
  const auto places = test::drawn("all of lengths", 40, 4, 1);
  CHECK(std::set<std::size_t>(places.begin(), places.end()).size() == 40);
  CHECK(test::as_many("making of all", 100, 10) == 100);
  CHECK(test::take_closing().skipped == 0);
}

TEST_CASE("what only a long run does counts as skipped once") {
  const Length shorter("0");
  CHECK_FALSE(test::only_long());
  CHECK_FALSE(test::only_long());
  const test::Closing closing = test::take_closing();
  CHECK(closing.skipped == 1);
  CHECK(closing.lines ==
        std::vector<std::string>{
            "skipped: what only a long run does counts as skipped once: only tools/test --long runs it"});
}

}  // namespace overwinter
