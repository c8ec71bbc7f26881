// One part on its own that lives through time, with event rounds as the engine makes them (sim/engine/simulator.hpp).
#pragma once

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "tests/models/support/alone.hpp"

namespace overwinter::test {

class InTime : public Alone {
 public:
  explicit InTime(const Alone& part) : Alone(part), armed_(table.events.size(), true) {}

  /// One round at this tick: every armed guard >= 0 and every alarm that has come, and after a held-up integration
  /// every event for that; the resets read what was before. The names of what was due, in the table's order.
  std::vector<std::string> one_round(bool held_up = false) {
    std::vector<std::size_t> due_events;
    for (std::size_t i = 0; i < table.events.size(); ++i) {
      const Event& e = table.events[i];
      if (e.held_up) {
        if (held_up) due_events.push_back(i);
        continue;
      }
      if (!e.guard) {
        if (alarms[static_cast<std::size_t>(e.alarm)] <= now.utc) due_events.push_back(i);
        continue;
      }
      const bool holds = e.guard(*model, view()) >= 0;
      if (holds && armed_[i]) due_events.push_back(i);
      if (!holds) armed_[i] = true;
    }
    const Alone before = *this;
    Writable w{x.data(), memory.data(), alarms.data(), now};
    std::vector<std::string> names;
    for (const std::size_t i : due_events) {
      const Event& e = table.events[i];
      if (e.alarm >= 0 && alarms[static_cast<std::size_t>(e.alarm)] > now.utc) continue;
      armed_[i] = false;
      names.push_back(e.name);
      happened.emplace_back(now.utc, e.name);
      if (e.reset) e.reset(*model, before.view(), w);
    }
    return names;
  }

  /// Rounds until nothing is due.
  void settle() {
    for (int round = 0; round < 20; ++round) {
      if (one_round().empty()) return;
    }
    FAIL("events keep causing each other");
  }

  Tick next_alarm() const { return *std::min_element(alarms.begin(), alarms.end()); }

  /// Lives through every alarm up to `until`, with everything from outside held.
  void run_to(Tick until) {
    while (next_alarm() <= until) {
      now.utc = std::max(now.utc, next_alarm());
      settle();
    }
    now.utc = until;
  }

  std::vector<std::pair<Tick, std::string>> happened;

 private:
  std::vector<bool> armed_;
};

}  // namespace overwinter::test
