#include "sim/engine/watchers.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace overwinter;

namespace {

/// Writes down everything it is told.
struct Scribe final : RunWatcher {
  Scribe(std::string n, std::string& t) : name(std::move(n)), text(t) {}
  void on_step(Tick t, const double* state, Evaluator& system) override { note("step", t, state, system); }
  void on_sample(Tick t, const double* state, Evaluator& system) override { note("sample", t, state, system); }
  void on_happening(const Happening& h, const double* state, Evaluator& system) override {
    note("happening " + h.what, h.time, state, system);
  }
  void on_worst_case(Tick t, std::size_t part, std::size_t margin, double value) override {
    text += name + " worst case " + std::to_string(t) + " " + std::to_string(part) + " " + std::to_string(margin) +
            " " + std::to_string(value) + "\n";
  }
  void on_mechanism(Tick t, const std::string& id, const std::string& part, const std::string& words) override {
    text += name + " mechanism " + std::to_string(t) + " " + id + " " + part + " " + words + "\n";
  }
  void note(const std::string& what, Tick t, const double* state, Evaluator& system) {
    text += name + " " + what + " " + std::to_string(t) + " " + std::to_string(*state) + "\n";
    seen = &system;
  }
  const std::string name;
  std::string& text;
  const Evaluator* seen = nullptr;
};

}  // namespace

TEST_CASE("watchers: all hear everything, in the order given") {
  std::string text;
  Scribe one("one", text), two("two", text);
  Watchers both({&one, &two});
  const Diagram diagram{Scenario{}};
  Evaluator system(diagram);
  const double state = 0.5;
  both.on_step(1, &state, system);
  both.on_sample(2, &state, system);
  both.on_happening({3, 0, nullptr, nullptr, "fall"}, &state, system);
  both.on_worst_case(4, 5, 6, 0.25);
  both.on_mechanism(7, "inrush", "switch", "it dips");
  CHECK(text ==
        "one step 1 0.500000\ntwo step 1 0.500000\n"
        "one sample 2 0.500000\ntwo sample 2 0.500000\n"
        "one happening fall 3 0.500000\ntwo happening fall 3 0.500000\n"
        "one worst case 4 5 6 0.250000\ntwo worst case 4 5 6 0.250000\n"
        "one mechanism 7 inrush switch it dips\ntwo mechanism 7 inrush switch it dips\n");
  CHECK(one.seen == &system);
  CHECK(two.seen == &system);
}

TEST_CASE("watchers: none is fine") {
  Watchers nobody({});
  const Diagram diagram{Scenario{}};
  Evaluator system(diagram);
  const double state = 0;
  CHECK_NOTHROW(nobody.on_step(1, &state, system));
}
