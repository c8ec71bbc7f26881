#include "sim/service/margins.hpp"

#include <doctest/doctest.h>

#include <limits>

#include "tests/support/toy.hpp"

using namespace overwinter;

namespace {

constexpr double no_margin = std::numeric_limits<double>::infinity();

/// Two parts with two margins each: their states, in force while positive or negative, but not at exactly zero.
struct Bench {
  static std::shared_ptr<const test::Toy> part() {
    ModelTable t;
    t.states = {{"one", unit_of<Voltage>("V"), 1, ""}, {"two", unit_of<Voltage>("V"), 1, ""}};
    for (const std::size_t i : {0, 1}) {
      t.margins.push_back(
          {i ? "two" : "one", "", [i](const Model&, const View& v) { return v.x[i] == 0 ? no_margin : v.x[i]; }});
    }
    return std::make_shared<test::Toy>(std::move(t));
  }
  Bench() : diagram(test::toys({{"b", part()}, {"a", part()}})), system(diagram), log(diagram, service) {}

  /// The states of a, then of b.
  void take(std::vector<double> state, bool as_happening = false, Tick at = 0) {
    system.set_inputs(state.data(), nullptr, nullptr);
    const double network = 0;
    system.set_solution(&network);
    if (as_happening) {
      log.on_happening({at, 0, nullptr, nullptr}, state.data(), system);
    } else {
      log.on_step(at, state.data(), system);
    }
  }
  Diagram diagram;
  Evaluator system;
  Weather weather = test::dark(1);
  Service service{diagram, weather.begin(), weather.end(), SunnyDays(weather), 3};
  MarginLog log;
};

}  // namespace

TEST_CASE("margins: none in force, none is thinnest") {
  Bench b;
  CHECK_FALSE(b.log.thinnest());
  b.take({0, 0, 0, 0});
  CHECK_FALSE(b.log.thinnest());
  CHECK(b.log.all().size() == 8);
  for (const ThinnestMargin& m : b.log.all()) CHECK(m.value == no_margin);
}

TEST_CASE("margins: every part's own, in part order, steps before worst cases") {
  const Bench b;
  const std::vector<ThinnestMargin>& all = b.log.all();
  REQUIRE(all.size() == 8);
  const std::string names[] = {"a one", "a one", "a two", "a two", "b one", "b one", "b two", "b two"};
  for (std::size_t i = 0; i < 8; ++i) {
    CHECK(all[i].part->name + " " + all[i].margin->name == names[i]);
    CHECK(all[i].worst_case == (i % 2 == 1));
  }
}

TEST_CASE("margins: the least value and when it first was") {
  Bench b;
  b.take({3, 0, 5, 0}, false, 10);
  b.take({1, 0, 6, 0}, false, 20);
  b.take({1, 0, 4, 7}, false, 30);
  b.take({2, 0, 0, 0}, false, 40);
  const std::vector<ThinnestMargin>& all = b.log.all();
  CHECK(all[0].value == 1);
  CHECK(all[0].at == 20);
  CHECK(all[2].value == no_margin);
  CHECK(all[4].value == 4);
  CHECK(all[4].at == 30);
  CHECK(all[6].value == 7);
  CHECK(b.log.thinnest() == &all[0]);
  for (const std::size_t i : {1, 3, 5, 7}) CHECK(all[i].value == no_margin);
}

TEST_CASE("margins: what fires a guard counts too, and a threshold that was crossed has none left") {
  Bench b;
  b.take({3, 0, 5, 0}, false, 10);
  b.take({3, 0, -0.25, 0}, true, 15);
  b.take({3, 0, 5, 0}, false, 20);
  REQUIRE(b.log.thinnest());
  CHECK(b.log.thinnest() == &b.log.all()[4]);
  CHECK(b.log.thinnest()->value == 0);
  CHECK(b.log.thinnest()->crossed);
  CHECK(b.log.thinnest()->at == 15);
}

TEST_CASE("margins: worst cases are kept apart from steps") {
  Bench b;
  b.take({3, 2, 5, 9}, false, 10);
  b.log.on_worst_case(11, 1, 0, 1.5);
  b.log.on_worst_case(12, 1, 0, 0.5);
  b.log.on_worst_case(13, 1, 0, 0.75);
  b.log.on_worst_case(13, 0, 1, no_margin);
  const std::vector<ThinnestMargin>& all = b.log.all();
  CHECK(all[4].value == 5);
  CHECK(all[5].value == 0.5);
  CHECK(all[5].at == 12);
  CHECK(all[3].value == no_margin);
  CHECK(b.log.thinnest() == &all[5]);
  CHECK(b.log.thinnest()->worst_case);
}

TEST_CASE("margins: a crossed threshold is thinner than what a worst case lacks, which may have come to nothing") {
  Bench b;
  b.take({3, 0, 5, 0}, false, 10);
  b.log.on_worst_case(11, 1, 0, -0.5);
  CHECK(b.log.thinnest() == &b.log.all()[5]);
  CHECK_FALSE(b.log.thinnest()->crossed);
  b.take({-0.1, 0, 5, 0}, true, 20);
  CHECK(b.log.thinnest() == &b.log.all()[0]);
  CHECK(b.log.thinnest()->crossed);
}

TEST_CASE("margins: a diagram without margins has none") {
  const Diagram bare(test::toys({{"a", std::make_shared<test::Toy>(ModelTable{})}}));
  const Weather weather = test::dark(1);
  const Service service(bare, weather.begin(), weather.end(), SunnyDays(weather), 3);
  const MarginLog log(bare, service);
  CHECK(log.all().empty());
  CHECK_FALSE(log.thinnest());
}
