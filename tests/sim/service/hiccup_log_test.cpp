#include "sim/service/hiccup_log.hpp"

#include <doctest/doctest.h>

#include "sim/replay/service_json.hpp"
#include "sim/service/service.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

/// The first design's parts; nothing is simulated.
const test::Replayed& bench() {
  static const test::Replayed b(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.yaml");
  return b;
}

CycleEvent event(Tick time, const std::string& part, const std::string& name) {
  const std::vector<DiagramPart>& parts = bench().diagram.parts();
  for (std::size_t p = 0; p < parts.size(); ++p) {
    for (std::size_t e = 0; e < parts[p].table->events.size(); ++e) {
      if (parts[p].name == part && parts[p].table->events[e].name == name) return {time, p, e};
    }
  }
  throw std::logic_error("no " + part + " " + name);
}

constexpr Tick second = ticks_per_second;

/// From one second on for an hour: 100 times two starts that brown out, then 30 times one that never becomes valid.
Leap leap(Tick begin) {
  Leap l;
  l.begin = begin + second;
  l.end = l.begin + 3600 * second;
  for (int i = 0; i < 2; ++i) {
    l.first.events.push_back(event(begin + (2 * i) * second / 4, "logger", "boot"));
    l.first.events.push_back(event(begin + (2 * i + 1) * second / 4, "logger", "brown-out"));
    l.first.events.push_back(event(begin + (2 * i + 1) * second / 4, "boost", "lockout"));
  }
  l.first.times = 100;
  l.then.events = {event(begin, "logger", "power came"), event(begin + second / 4, "guard", "over-discharge trip"),
                   event(begin + second / 2, "logger", "power gone")};
  l.then.times = 30;
  l.energy = 7.5;
  l.unbalanced = -0.25;
  return l;
}

}  // namespace

TEST_CASE("hiccup log: restarts in vain are counted by what failed, in both parts of a leap") {
  HiccupLog log(bench().diagram);
  CHECK(stepped_over_json(log).at("restarts_in_vain").empty());
  log.on_leap(leap(0));
  log.on_leap(leap(0));
  CHECK(log.time() == 2 * 3600 * second);
  CHECK(log.energy() == 15);
  CHECK(log.unbalanced() == -0.5);
  REQUIRE(log.failures().size() == 3);
  CHECK(log.failures()[0].event == "brown-out");
  CHECK(log.failures()[0].times == 400);
  CHECK(log.failures()[2].part == "guard");
  CHECK(log.failures()[2].times == 60);
  CHECK(stepped_over_json(log) ==
        nlohmann::ordered_json::parse(R"({"time_s": 7200.0, "energy_J": 15.0, "unbalanced_J": -0.5,
      "restarts_in_vain": [{"part": "logger", "event": "brown-out", "times": 400},
                           {"part": "boost", "event": "lockout", "times": 400},
                           {"part": "guard", "event": "over-discharge trip", "times": 60}]})"));
}

TEST_CASE("service counts restarts that were stepped over as often as they are taken to have happened") {
  const Weather& weather = bench().weather;
  Service service(bench().diagram, weather.begin(), weather.end(), SunnyDays(weather), 3);
  Evaluator evaluator(bench().diagram);
  const auto happens = [&](const CycleEvent& e) {
    const DiagramPart& part = bench().diagram.parts()[e.part];
    service.on_happening({weather.begin() + e.time, 0, &part, &part.table->events[e.event]}, nullptr, evaluator);
  };
  happens(event(0, "clock", "alarm"));
  happens(event(1, "logger", "power came"));
  happens(event(2, "logger", "boot"));
  happens(event(3, "logger", "brown-out"));
  service.on_leap(leap(weather.begin()));
  const ServiceRecord record = service.finish();
  REQUIRE(record.brownouts.size() == 1);
  CHECK(record.brownouts[0].attempts == 200 + 30);
  CHECK(record.failed_starts == 30);
  CHECK(record.due == 1);
  CHECK(record.wakes == 1);
  CHECK(record.completed == 0);
}
