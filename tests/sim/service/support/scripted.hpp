// A service followed through a made-up course of events: parts without physics, named as in an instrument.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/service/service.hpp"
#include "tests/support/toy.hpp"

namespace overwinter::test {

inline constexpr Tick second = ticks_per_second, minutes = 60 * second, hours = 60 * minutes, days = ticks_per_day;

/// From 2025-03-01: the same light every day but for the `dull` days of March (from 1; fewer than half of them), which
/// have half of it and are not sunny.
inline Weather march(int days_long, const std::vector<int>& dull = {}) {
  const std::size_t first = (31 + 28) * 24;
  StationYear year = station_year([&](std::size_t h) {
    if (h % 24 != 12) return 0.0;
    for (const int day : dull) {
      if (h >= first && (h - first) / 24 + 1 == static_cast<std::size_t>(day)) return 100.0;
    }
    return 200.0;
  });
  return Weather(std::move(year), Site{}, {2025, 3, 1}, {2025, 3, days_long});
}

/// Tables with the events of an instrument's parts. Kept for the length of the test.
class Cast {
 public:
  Cast() {
    add("clock", {{"alarm", EventRole::alarm_due}, {"clock stops", EventRole::none}});
    add("logger", {{"power came", EventRole::power_came},
                   {"boot", EventRole::wake_begins},
                   {"phase begins", EventRole::none},
                   {"wake completed", EventRole::wake_completed},
                   {"brown-out", EventRole::brown_out},
                   {"power gone", EventRole::power_gone}});
    add("guard", {{"over-discharge trip", EventRole::cut}, {"over-discharge release", EventRole::restored}});
    add("panel", {{"soiled", EventRole::fault_begins}, {"soiled over", EventRole::fault_over}});
    add("boost", {{"lockout", EventRole::cut}, {"feeds", EventRole::restored}, {"current limit", EventRole::limit}});
  }
  Cast(const Cast&) = delete;

  Happening happening(Tick time, const std::string& part, const std::string& event, int round = 0) const {
    const DiagramPart& p = parts_.at(part);
    for (const Event& e : p.table->events) {
      if (e.name == event) return {time, round, &p, &e};
    }
    throw std::logic_error("no event " + event);
  }

 private:
  void add(const std::string& name, const std::vector<std::pair<std::string, EventRole>>& events) {
    auto table = std::make_unique<ModelTable>();
    for (const auto& [event, role] : events) {
      table->events.emplace_back();
      table->events.back().name = event;
      table->events.back().role = role;
    }
    parts_[name].name = name;
    parts_[name].table = table.get();
    tables_.push_back(std::move(table));
  }
  std::vector<std::unique_ptr<ModelTable>> tables_;
  std::map<std::string, DiagramPart> parts_;
};

/// Times are counted from the begin of the span, which is `begin` in the record.
class Script {
 public:
  explicit Script(Weather weather, std::optional<Tick> length = std::nullopt, int sunny_days = 3)
      : begin(weather.begin()),
        end(length ? begin + *length : weather.end()),
        diagram_(Scenario{}),
        service_(diagram_, begin, end, SunnyDays(weather), sunny_days),
        evaluator_(diagram_) {}

  const Tick begin, end;

  Script& at(Tick t, const std::string& part, const std::string& event, int round = 0) {
    service_.on_happening(cast_.happening(begin + t, part, event, round), nullptr, evaluator_);
    return *this;
  }
  Script& collapse(Tick t, const std::string& what) {
    service_.on_happening({begin + t, 0, nullptr, nullptr, what}, nullptr, evaluator_);
    return *this;
  }
  /// An integration step without an event ends.
  Script& step(Tick t) {
    service_.on_step(begin + t, nullptr, evaluator_);
    return *this;
  }
  Script& due(Tick t) { return at(t, "clock", "alarm"); }
  /// Power comes and 50 ms later the supply is valid.
  Script& starts(Tick t) { return at(t, "logger", "power came").at(t + start_up, "logger", "boot"); }
  /// Completes and cuts its own supply.
  Script& completes(Tick t) { return at(t, "logger", "wake completed").at(t + 1, "logger", "power gone"); }
  /// Due at t, completed at t + lasts.
  Script& wake(Tick t, Tick lasts = 30 * second) { return due(t).starts(t).completes(t + lasts); }
  ServiceRecord finish() { return service_.finish(); }

  static constexpr Tick start_up = second / 20;

 private:
  Cast cast_;
  Diagram diagram_;
  Service service_;
  Evaluator evaluator_;
};

}  // namespace overwinter::test
