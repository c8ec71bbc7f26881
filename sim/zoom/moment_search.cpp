#include "sim/zoom/moment_search.hpp"

#include <fmt/format.h>

#include <optional>

#include "sim/engine/watchers.hpp"
#include "sim/input_error.hpp"
#include "sim/mechanisms/mechanism_log.hpp"
#include "sim/replay/recorder.hpp"
#include "sim/replay/run_progress.hpp"
#include "sim/service/service.hpp"
#include "sim/text.hpp"
#include "sim/zoom/zoom_request.hpp"

namespace overwinter {

namespace {

/// "boost, lockout", or what happened without a part.
std::string told(const std::string& part, const std::string& event) {
  return part.empty() ? event : part + ", " + event;
}

/// Counts as events.csv does.
class EventCounter final : public RunWatcher {
 public:
  explicit EventCounter(int wanted) : wanted_(wanted) {}
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (!is_listed(h)) return;
    count(h.time, told(h.part_name(), h.event_name()));
    if (found && counted == wanted_ && h.part) found->asked_for = {{h.part_name(), h.event_name()}};
  }
  void on_leap(const Leap& leap) override { count(leap.begin, "restarts in vain, stepped over"); }
  void on_mechanism(Tick at, const std::string& id, const std::string& part, const std::string&) override {
    count(at, told(part, "mechanism " + id));
  }

  int counted = 0;
  std::optional<FoundMoment> found;

 private:
  void count(Tick time, const std::string& what) {
    if (++counted == wanted_) found = FoundMoment{time, fmt::format("event {}: {}", wanted_, what), {}};
  }
  const int wanted_;
};

[[noreturn]] void refuse(const NumberedEvent& wanted, std::size_t there, const std::string& what) {
  const std::string letter = wanted.brownout ? "B" : "";
  Fault fault;
  fault.place.file = fmt::format("--event '{}{}'", letter, wanted.number);
  fault.message =
      there == 0 ? "the run has no " + what : "the run has " + how_many(std::to_string(there), what) + " only";
  fault.suggestion = there == 0   ? "--at TIME"
                     : there == 1 ? "--event " + letter + "1"
                                  : fmt::format("--event {0}1 to --event {0}{1}", letter, there);
  throw InputError({fault});
}

}  // namespace

FoundMoment find_moment(const Scenario& scenario, const Weather& weather, const Diagram& diagram,
                        const RunOptions& options, NumberedEvent wanted) {
  EventCounter events(wanted.brownout ? 0 : wanted.number);
  Service service(diagram, weather.begin(), weather.end(), SunnyDays(weather), scenario.sunny_days);
  RunProgress progress(options, weather);
  MechanismLog mechanisms(scenario, diagram, weather, &events);
  Watchers watchers({&service, &events, &mechanisms, &progress});
  Simulator simulator(diagram, weather, simulator_options(options, options.every), &watchers);
  Context c = simulator.start();
  watchers.on_step(c.now, c.state.data(), simulator.at(c));
  while (c.now < weather.end() && !events.found) simulator.advance_segment(c, weather.end());
  ServiceRecord record;
  if (!events.found) {
    record = service.finish();
    mechanisms.finish(c, simulator.at(c), &record);
  }
  if (events.found) return *events.found;
  if (!wanted.brownout) refuse(wanted, static_cast<std::size_t>(events.counted), "event");
  const auto number = static_cast<std::size_t>(wanted.number);
  if (number > record.brownouts.size()) refuse(wanted, record.brownouts.size(), "brown-out");
  const BrownOut& b = record.brownouts[number - 1];
  const ChainLink& first = b.chain.front();
  FoundMoment found{first.time,
                    fmt::format("brown-out B{} ({}): {}", number, iso_time(b.begin, 9), told(first.part, first.event)),
                    {}};
  for (const ChainLink& link : b.chain) {
    const bool near = link.time - first.time <= longest_wait;
    if (near && !link.part.empty()) found.asked_for.emplace_back(link.part, link.event);
  }
  return found;
}

}  // namespace overwinter
