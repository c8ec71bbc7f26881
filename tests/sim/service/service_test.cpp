// Every definition of "Metrics" in turn, on made-up courses of events.
#include "sim/service/service.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <random>
#include <vector>

#include "tests/sim/service/support/scripted.hpp"

using namespace overwinter;
using test::days;
using test::hours;
using test::march;
using test::minutes;
using test::Script;
using test::second;

namespace {

/// Parts and events of a chain, "guard over-discharge trip".
std::vector<std::string> told(const BrownOut& b) {
  std::vector<std::string> links;
  for (const ChainLink& link : b.chain) links.push_back(link.part.empty() ? link.event : link.part + " " + link.event);
  return links;
}

using Chain = std::vector<std::string>;

const std::string no_supply = "no supply when the alarm came due";

/// Completes a wake every `every` from `from` to before `to`.
void serve(Script& script, Tick from, Tick to, Tick every) {
  for (Tick t = from; t < to; t += every) script.wake(t);
}

}  // namespace

// --- wake, completed, missed, failed start

TEST_CASE("service: a wake is an alarm due and power; completed where the last phase ends") {
  Script script(march(1));
  script.wake(1 * hours).wake(2 * hours).wake(3 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 3);
  CHECK(r.wakes == 3);
  CHECK(r.completed == 3);
  CHECK(r.missed == 0);
  CHECK(r.failed_starts == 0);
  CHECK(r.brownouts.empty());
  CHECK(r.completed_at == std::vector<Tick>{script.begin + 1 * hours + 30 * second,
                                            script.begin + 2 * hours + 30 * second,
                                            script.begin + 3 * hours + 30 * second});
}

TEST_CASE("service: due without power is missed and no wake") {
  Script script(march(1));
  script.wake(1 * hours).due(2 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 2);
  CHECK(r.wakes == 1);
  CHECK(r.completed == 1);
  CHECK(r.missed == 1);
}

TEST_CASE("service: power that comes without an alarm is no wake") {
  Script script(march(1));
  script.at(1 * hours, "logger", "power came").at(2 * hours, "logger", "power gone").wake(3 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.wakes == 1);
  CHECK(r.failed_starts == 1);
}

TEST_CASE("service: a supply that runs down starts the controller again, which is neither wake nor brown-out") {
  Script script(march(1));
  script.wake(1 * hours);
  const Tick cut = 1 * hours + 2 * minutes;
  for (int i = 0; i < 3; ++i) {
    script.at(cut + 20 * i * second, "logger", "boot").at(cut + (20 * i + 1) * second, "logger", "brown-out");
  }
  script.at(cut + 2 * minutes, "logger", "power gone").wake(2 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.brownouts.empty());
  CHECK(r.wakes == 2);
  CHECK(r.completed == 2);
  CHECK(r.missed == 0);

  Script late(march(1));  // from the next alarm on it should run
  late.wake(1 * hours).due(2 * hours).starts(2 * hours).at(2 * hours + second, "logger", "brown-out");
  CHECK(late.finish().brownouts.size() == 1);

  Script alone(march(1));  // without alarms it should run whenever it can
  alone.starts(1 * hours).completes(1 * hours + minutes).starts(2 * hours);
  alone.at(2 * hours + second, "logger", "brown-out");
  CHECK(alone.finish().brownouts.size() == 1);
}

TEST_CASE("service: an alarm is one wake, however often its power comes back") {
  Script script(march(1));
  script.due(1 * hours);
  for (int i = 0; i < 5; ++i) {
    script.at(1 * hours + i * second, "logger", "power came");
    script.at(1 * hours + i * second + second / 2, "logger", "power gone");
  }
  script.starts(1 * hours + 6 * second).completes(1 * hours + 40 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.wakes == 1);
  CHECK(r.completed == 1);
  CHECK(r.failed_starts == 5);
}

TEST_CASE("service: a failed start had power but never a valid supply; one that browned out did have it") {
  Script script(march(1));
  script.due(1 * hours).at(1 * hours, "logger", "power came").at(1 * hours + second, "logger", "power gone");
  script.at(2 * hours, "logger", "power came").at(2 * hours + second, "logger", "boot");
  script.at(2 * hours + 2 * second, "logger", "brown-out").at(2 * hours + 3 * second, "logger", "power gone");
  const ServiceRecord r = script.finish();
  CHECK(r.failed_starts == 1);
  CHECK(r.completed == 0);
  CHECK(r.missed == 1);
}

TEST_CASE("service: two alarms that one wake answers are one completed and one missed") {
  Script script(march(1));
  script.due(1 * hours).due(2 * hours).starts(2 * hours).completes(2 * hours + 30 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 2);
  CHECK(r.completed == 1);
  CHECK(r.missed == 1);
}

TEST_CASE("service: a completed run that no alarm asked for makes no missed alarm good") {
  Script script(march(1));
  script.starts(1 * hours).completes(1 * hours + 30 * second);  // as when the first power is connected
  script.wake(2 * hours).due(3 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 2);
  CHECK(r.missed == 1);
  CHECK(r.wakes == 2);  // it is a wake all the same
  CHECK(r.completed == 2);
}

TEST_CASE("service: no more wakes are completed than there are, whether or not an alarm asked for them") {
  Script unseen(march(1));  // powered and booted as the span began: only the end is told
  unseen.due(second).at(2 * minutes, "logger", "wake completed").due(1 * hours).step(2 * hours);
  const ServiceRecord first = unseen.finish();
  CHECK(first.wakes == 1);
  CHECK(first.completed == 1);
  CHECK(first.missed == 1);
  CHECK(first.downtime == 23 * hours);
  REQUIRE(first.brownouts.size() == 1);
  CHECK(first.brownouts.front().cause() == "still powered when the alarm came due, so that nothing started");

  Script retried(march(1));  // three boots without an alarm are one wake, as with an alarm
  for (int i = 0; i < 3; ++i) {
    retried.starts(1 * hours + i * minutes).at(1 * hours + i * minutes + 5 * second, "logger", "brown-out");
  }
  retried.starts(2 * hours).completes(2 * hours + 30 * second).wake(3 * hours);
  const ServiceRecord second_record = retried.finish();
  CHECK(second_record.wakes == 2);
  CHECK(second_record.completed == 2);
  CHECK(second_record.due == 1);
  CHECK(second_record.missed == 0);

  Script overtaken(march(1));  // an alarm that comes due in a wake nobody asked for is answered by its end
  overtaken.starts(1 * hours).due(1 * hours + 10 * second).completes(1 * hours + 5 * minutes);
  const ServiceRecord third = overtaken.finish();
  CHECK(third.wakes == 1);
  CHECK(third.completed == 1);
  CHECK(third.missed == 0);
  CHECK(third.brownouts.empty());

  Script crossing(march(1));
  crossing.wake(1 * hours).starts(24 * hours - 10 * second);
  CHECK(crossing.finish().wakes == 1);
}

TEST_CASE("service: power that stays to the end and never becomes valid is a failed start after a minute") {
  Script script(march(1));
  script.wake(1 * hours).at(24 * hours - 61 * second, "logger", "power came");
  CHECK(script.finish().failed_starts == 1);
  Script recent(march(1));
  recent.wake(1 * hours).at(24 * hours - 60 * second, "logger", "power came");
  CHECK(recent.finish().failed_starts == 0);
  Script valid(march(1));
  valid.wake(1 * hours).starts(23 * hours);
  CHECK(valid.finish().failed_starts == 0);
}

TEST_CASE("service: the start that an episode began with is none of its further attempts") {
  for (const bool goes : {true, false}) {
    CAPTURE(goes);
    Script script(march(1));
    script.due(2 * hours).at(2 * hours, "logger", "power came").step(3 * hours);
    if (goes) script.at(3 * hours, "logger", "power gone");
    ServiceRecord r = script.finish();
    REQUIRE(r.brownouts.size() == 1);
    CHECK(r.failed_starts == 1);
    CHECK(r.brownouts.front().attempts == 0);
  }
  Script again(march(1));
  again.due(2 * hours).step(3 * hours).at(4 * hours, "logger", "power came");
  const ServiceRecord r = again.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().attempts == 1);
}

// --- brown-out: episode, attempts, cause

TEST_CASE(
    "service: a supply that falls below the threshold begins an episode that lasts until the next completed wake") {
  Script script(march(1));
  script.wake(1 * hours).due(2 * hours).starts(2 * hours);
  script.at(2 * hours + 5 * second, "logger", "brown-out").at(2 * hours + 6 * second, "logger", "power gone");
  script.starts(5 * hours).completes(5 * hours + 30 * second).wake(6 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  const BrownOut& b = r.brownouts.front();
  CHECK(b.begin == script.begin + 2 * hours + 5 * second);
  REQUIRE(b.recovered);
  CHECK(*b.recovered == script.begin + 5 * hours + 30 * second);
  CHECK(b.end == *b.recovered);
  CHECK(b.outcome == Outcome::recovered);
  CHECK(b.attempts == 0);
  CHECK(told(b) == Chain{"logger brown-out"});
  CHECK(b.cause() == "logger: brown-out");
  CHECK(r.wakes == 3);
  CHECK(r.missed == 0);
}

TEST_CASE("service: further brown-outs before the next completed wake are attempts of one episode") {
  Script script(march(1));
  script.due(2 * hours);
  for (int i = 0; i < 4; ++i) {
    script.starts(2 * hours + i * minutes);
    script.at(2 * hours + i * minutes + 5 * second, "logger", "brown-out");
    script.at(2 * hours + i * minutes + 6 * second, "logger", "power gone");
  }
  script.starts(3 * hours).completes(3 * hours + 30 * second);
  script.due(4 * hours).starts(4 * hours).at(4 * hours + second, "logger", "brown-out");
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 2);
  CHECK(r.brownouts[0].attempts == 3);
  CHECK(r.brownouts[1].attempts == 0);
}

TEST_CASE("service: a start that fails inside an episode is an attempt, an alarm without power is none") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours).at(2 * hours + 5 * second, "logger", "brown-out");
  script.at(2 * hours + 6 * second, "logger", "power gone");
  script.at(3 * hours, "logger", "power came").at(3 * hours + second, "logger", "power gone");
  script.at(4 * hours, "logger", "power came").at(4 * hours + second, "logger", "power gone");
  script.due(5 * hours).step(6 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.failed_starts == 2);
  CHECK(r.brownouts.front().attempts == 2);
}

TEST_CASE("service: an alarm that finds no power is a brown-out from the alarm on") {
  Script script(march(1));
  script.wake(1 * hours).due(2 * hours).step(3 * hours).starts(4 * hours).completes(4 * hours + 30 * second);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  const BrownOut& b = r.brownouts.front();
  CHECK(b.begin == script.begin + 2 * hours);
  CHECK(told(b) == Chain{no_supply});
  CHECK(b.cause() == no_supply);
  CHECK(b.outcome == Outcome::recovered);
}

TEST_CASE("service: a controller with power but no valid supply could not start") {
  Script script(march(1));
  script.due(2 * hours).at(2 * hours, "logger", "power came").step(3 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().begin == script.begin + 2 * hours);
  CHECK(told(r.brownouts.front()) == Chain{"no valid supply when the alarm came due"});
}

TEST_CASE("service: a start within a minute is on time") {
  Script script(march(1));
  script.due(1 * hours).starts(1 * hours + 60 * second - Script::start_up).completes(1 * hours + 90 * second);
  script.due(2 * hours).step(2 * hours + 60 * second);
  script.starts(2 * hours + 61 * second).completes(2 * hours + 90 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.downtime == 61 * second + Script::start_up);
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().begin == script.begin + 2 * hours);
}

TEST_CASE("service: cause: a protector's trip hours before the alarm") {
  Script script(march(1));
  script.wake(1 * hours).at(3 * hours, "guard", "over-discharge trip").at(3 * hours + 7, "boost", "lockout");
  script.due(9 * hours).step(10 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  const BrownOut& b = r.brownouts.front();
  CHECK(b.cause() == "guard: over-discharge trip");
  CHECK(told(b) == Chain{"guard over-discharge trip", "boost lockout", no_supply});
  CHECK(b.chain.front().time == script.begin + 3 * hours);
  CHECK(b.begin == script.begin + 9 * hours);
}

TEST_CASE("service: a trip that was released before the alarm is no link") {
  Script script(march(1));
  script.at(3 * hours, "guard", "over-discharge trip").at(4 * hours, "guard", "over-discharge release");
  script.due(9 * hours).step(10 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{no_supply});
}

TEST_CASE("service: a cut between two wakes that nobody asked to run is no brown-out") {
  Script script(march(1));
  script.wake(1 * hours).at(2 * hours, "guard", "over-discharge trip");
  script.at(3 * hours, "guard", "over-discharge release").wake(4 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.brownouts.empty());
  CHECK(r.missed == 0);
}

TEST_CASE("service: cause: a converter's lockout in the tick of the brown-out, an event round earlier") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours);
  script.at(2 * hours + 5 * second, "boost", "lockout", 1).at(2 * hours + 5 * second, "logger", "brown-out", 2);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{"boost lockout", "logger brown-out"});
}

TEST_CASE("service: cause: of a lockout and a brown-out in one event round the lockout is first, whatever the names") {
  // Within a round events come in the order of the parts' names: a converter named after the controller comes second.
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours);
  script.at(2 * hours + 5 * second, "logger", "brown-out", 1).at(2 * hours + 5 * second, "boost", "lockout", 1);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{"boost lockout", "logger brown-out"});
}

TEST_CASE("service: a lockout in a later event round than the brown-out is not its cause") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours);
  script.at(2 * hours + 5 * second, "logger", "brown-out", 1).at(2 * hours + 5 * second, "boost", "lockout", 2);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{"logger brown-out"});
}

TEST_CASE("service: cause: a limit reached in this wake, in the order of time with what else happened") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours);
  script.at(2 * hours + 2 * second, "boost", "current limit")
      .at(2 * hours + 3 * second, "guard", "over-discharge trip");
  script.at(2 * hours + 5 * second, "logger", "brown-out");
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{"boost current limit", "guard over-discharge trip", "logger brown-out"});
}

TEST_CASE("service: a limit reached in an earlier wake is no link, with and without a switch in the supply") {
  for (const bool switched : {true, false}) {
    CAPTURE(switched);
    Script script(march(1));
    script.due(2 * hours).starts(2 * hours).at(2 * hours + 2 * second, "boost", "current limit");
    script.at(2 * hours + 5 * second, "logger", "wake completed");
    if (switched) script.at(2 * hours + 6 * second, "logger", "power gone");
    script.due(3 * hours);
    if (switched) script.at(3 * hours, "logger", "power came");
    script.at(3 * hours + 1, "logger", "boot").at(3 * hours + 5 * second, "logger", "brown-out");
    const ServiceRecord r = script.finish();
    REQUIRE(r.brownouts.size() == 1);
    CHECK(told(r.brownouts.front()) == Chain{"logger brown-out"});
  }
}

TEST_CASE("service: cause: a limit that keeps the supply from ever becoming valid") {
  Script script(march(1));
  script.due(2 * hours).at(2 * hours, "logger", "power came").at(2 * hours + second, "boost", "current limit");
  script.step(3 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().cause() == "boost: current limit");
}

TEST_CASE("service: cause: a collapse of the network, one cause whatever the voltages were") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours).collapse(2 * hours + second, "net pack+ went from 3.214 V to 0.418 V");
  script.at(2 * hours + second, "logger", "brown-out").at(2 * hours + 2 * second, "logger", "power gone");
  script.wake(3 * hours);
  script.due(4 * hours).starts(4 * hours).collapse(4 * hours + second, "net pack+ went from 3.111 V to 0.333 V");
  script.at(4 * hours + second, "logger", "brown-out");
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 2);
  REQUIRE(told(r.brownouts.front()).size() == 2);
  CHECK(r.brownouts[0].cause().substr(0, 8) == "collapse");
  CHECK(r.brownouts[0].cause() == r.brownouts[1].cause());
}

TEST_CASE("service: a part that cuts again and again without ever feeding stands in the chain once") {
  Script script(march(1));
  for (int i = 0; i < 5; ++i) script.at(3 * hours + i * second, "boost", "lockout");
  script.due(9 * hours).step(10 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts.front()) == Chain{"boost lockout", no_supply});
  CHECK(r.brownouts.front().chain.front().time == script.begin + 3 * hours);
}

TEST_CASE(
    "service: an alarm in vain is stamped with its own time, unless something cut the supply in the minute after") {
  Script script(march(1));
  script.at(1 * hours, "guard", "over-discharge trip").due(2 * hours).step(3 * hours);
  const ServiceRecord plain = script.finish();
  REQUIRE(plain.brownouts.size() == 1);
  CHECK(plain.brownouts.front().chain.back().time == script.begin + 2 * hours);
  CHECK(plain.brownouts.front().chain.back().event == no_supply);

  Script late(march(1));
  late.due(2 * hours).at(2 * hours + second, "guard", "over-discharge trip").step(3 * hours);
  const ServiceRecord r = late.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().begin == late.begin + 2 * hours);
  CHECK(r.brownouts.front().chain.back().time == late.begin + 2 * hours + minutes);
  CHECK(told(r.brownouts.front()) == Chain{"guard over-discharge trip", "no supply a minute after the alarm came due"});
}

TEST_CASE("service: a chain is in the order of time") {
  Script script(march(1));
  script.due(2 * hours).at(2 * hours + 2, "logger", "power came").at(2 * hours + second, "boost", "lockout");
  script.at(2 * hours + 2 * second, "logger", "power gone").step(3 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  const std::vector<ChainLink>& chain = r.brownouts.front().chain;
  CHECK(r.brownouts.front().cause() == "boost: lockout");
  CHECK(std::is_sorted(chain.begin(), chain.end(),
                       [](const ChainLink& a, const ChainLink& b) { return a.time < b.time; }));
}

// --- gap

TEST_CASE("service: gaps run from end to end of completed wakes, and from the span's start") {
  Script script(march(1));
  script.wake(7 * hours, 100 * second);
  serve(script, 8 * hours, 24 * hours, hours);
  const ServiceRecord r = script.finish();
  CHECK(r.longest_gap.begin == script.begin);
  CHECK(r.longest_gap.end == script.begin + 7 * hours + 100 * second);
  CHECK_FALSE(r.longest_gap.open);
}

TEST_CASE("service: a gap in the middle, from the end of one wake to the end of the next") {
  Script script(march(1));
  script.wake(1 * hours, 100 * second).wake(12 * hours, 200 * second).wake(20 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.longest_gap.begin == script.begin + 1 * hours + 100 * second);
  CHECK(r.longest_gap.end == script.begin + 12 * hours + 200 * second);
  CHECK_FALSE(r.longest_gap.open);
}

TEST_CASE("service: a gap that the span's end cuts off is open") {
  Script script(march(1));
  script.wake(1 * hours).wake(2 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.longest_gap.begin == script.begin + 2 * hours + 30 * second);
  CHECK(r.longest_gap.end == script.end);
  CHECK(r.longest_gap.open);
}

TEST_CASE("service: a wake that was not completed does not end a gap") {
  Script script(march(1));
  script.wake(2 * hours).due(12 * hours).starts(12 * hours).at(12 * hours + second, "logger", "brown-out");
  script.at(12 * hours + 2 * second, "logger", "power gone").starts(20 * hours).completes(20 * hours + 30 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.longest_gap.length() == 18 * hours);
}

TEST_CASE("service: without any completed wake the span is one open gap") {
  Script script(march(2));
  const ServiceRecord r = script.finish();
  CHECK(r.longest_gap.length() == 2 * days);
  CHECK(r.longest_gap.open);
  CHECK(r.completed == 0);
  CHECK(r.downtime == 0);
  CHECK(r.brownouts.empty());
}

// --- downtime

TEST_CASE("service: downtime runs from the due alarm to the start of the next completed wake") {
  Script script(march(1));
  script.wake(1 * hours).due(2 * hours).step(3 * hours).starts(5 * hours).completes(5 * hours + 30 * second);
  script.due(8 * hours).starts(8 * hours).at(8 * hours + second, "logger", "brown-out");
  script.at(8 * hours + 2 * second, "logger", "power gone").starts(9 * hours).completes(9 * hours + 30 * second);
  CHECK(script.finish().downtime == 4 * hours + 2 * Script::start_up);
}

TEST_CASE("service: the start of a wake is its last boot, for one that boots twice on the same power") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours).at(2 * hours + second, "logger", "brown-out");
  script.at(3 * hours, "logger", "boot").completes(3 * hours + 30 * second);
  CHECK(script.finish().downtime == 1 * hours);
}

TEST_CASE("service: wakes on time make no downtime") {
  Script script(march(1));
  serve(script, 0, 24 * hours, hours);
  CHECK(script.finish().downtime == 0);
}

TEST_CASE("service: time that two due alarms share is counted once") {
  Script script(march(1));
  script.due(2 * hours).step(3 * hours).due(4 * hours).step(5 * hours).starts(6 * hours).completes(6 * hours + second);
  CHECK(script.finish().downtime == 4 * hours + Script::start_up);
}

TEST_CASE("service: downtime that is not over at the end of the span counts up to it") {
  Script script(march(1));
  script.wake(1 * hours).due(20 * hours).step(22 * hours);
  CHECK(script.finish().downtime == 4 * hours);
}

TEST_CASE("service: a late wake that crosses the span's end has its downtime up to its start") {
  Script script(march(1));
  script.wake(1 * hours).due(20 * hours).step(22 * hours).starts(24 * hours - 10 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.downtime == 4 * hours - 10 * second + Script::start_up);
  CHECK(r.brownouts.size() == 1);
}

// --- recovery, needs human

TEST_CASE("service: recovery ends at the next completed wake, not at the next start") {
  Script script(march(1));
  script.due(2 * hours).starts(2 * hours).at(2 * hours + 5 * second, "logger", "brown-out");
  script.starts(3 * hours).at(3 * hours + 5 * second, "logger", "brown-out");
  script.starts(4 * hours).completes(4 * hours + 30 * second);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().end - r.brownouts.front().begin == 2 * hours + 25 * second);
}

namespace {

/// A brown-out at 01:00 on the second day of the span, recovered `after` the span's start or never.
ServiceRecord dead_from_second_day(Weather weather, int sunny_days, std::optional<Tick> recovered = std::nullopt) {
  Script script(std::move(weather), std::nullopt, sunny_days);
  script.wake(1 * hours).due(1 * days + 1 * hours).step(1 * days + 2 * hours);
  if (recovered) script.starts(*recovered - 30 * second).completes(*recovered);
  return script.finish();
}

}  // namespace

TEST_CASE("service: needs human once N sunny days have passed without a completed wake") {
  const Weather weather = march(10);
  const ServiceRecord r = dead_from_second_day(weather, 3);
  REQUIRE(r.brownouts.size() == 1);
  const BrownOut& b = r.brownouts.front();
  CHECK(b.outcome == Outcome::needs_human);
  CHECK_FALSE(b.recovered);
  REQUIRE(b.needs_human_since);
  CHECK(*b.needs_human_since == weather.begin() + 5 * days);  // the day of the brown-out and three more
  CHECK(b.sunny_days == std::vector<std::size_t>{2, 3, 4});
  CHECK(b.end == weather.end());
}

TEST_CASE("service: only sunny days count") {
  const Weather weather = march(10, {3, 4, 6});
  const ServiceRecord r = dead_from_second_day(weather, 3);
  REQUIRE(r.brownouts.size() == 1);
  REQUIRE(r.brownouts.front().needs_human_since);
  CHECK(*r.brownouts.front().needs_human_since == weather.begin() + 8 * days);  // 5, 7 and 8 March were sunny
  CHECK(r.brownouts.front().sunny_days == std::vector<std::size_t>{4, 6, 7});
}

TEST_CASE("service: N is the scenario's") {
  const Weather weather = march(10);
  for (const int n : {1, 2, 5, 8}) {
    CAPTURE(n);
    const ServiceRecord r = dead_from_second_day(weather, n);
    REQUIRE(r.brownouts.size() == 1);
    REQUIRE(r.brownouts.front().needs_human_since);
    CHECK(*r.brownouts.front().needs_human_since == weather.begin() + (2 + n) * days);
  }
  CHECK(dead_from_second_day(weather, 9).brownouts.front().outcome == Outcome::undecided);
}

TEST_CASE("service: undecided where the span ends before N sunny days have passed") {
  const Weather weather = march(6, {3, 4, 6});
  const ServiceRecord r = dead_from_second_day(weather, 3);
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().outcome == Outcome::undecided);
  CHECK_FALSE(r.brownouts.front().needs_human_since);
  CHECK(r.brownouts.front().end == weather.end());
}

TEST_CASE("service: who wakes within N sunny days has recovered; who wakes after them needed a human") {
  const Weather weather = march(10);
  const ServiceRecord before = dead_from_second_day(weather, 3, 5 * days - 1);
  CHECK(before.brownouts.front().outcome == Outcome::recovered);
  const ServiceRecord after = dead_from_second_day(weather, 3, 5 * days + 1);
  CHECK(after.brownouts.front().outcome == Outcome::needs_human);
  REQUIRE(after.brownouts.front().recovered);
  CHECK(*after.brownouts.front().recovered == weather.begin() + 5 * days + 1);
}

TEST_CASE("service: sunny days are days of the site's standard time") {
  // March's first sunny day is the 5th. All light comes between 23:00 and 24:00 UTC, in the next day of a site two
  // hours east of it.
  const auto light = [](std::size_t h) {
    const std::size_t day = h / 24 - 58;  // of March, from 1
    return h % 24 == 23 ? (day >= 5 ? 200.0 : 100.0) : 0.0;
  };
  const auto weather = [&](double utc_offset_hours) {
    Site site;
    site.utc_offset = Duration{3600 * utc_offset_hours};
    return Weather(test::station_year(light), site, {2025, 3, 1}, {2025, 3, 10});
  };
  const auto since = [&](const Weather& w) { return *dead_from_second_day(w, 1).brownouts.front().needs_human_since; };
  CHECK(since(weather(0)) == weather(0).begin() + 5 * days);
  CHECK(since(weather(2)) == weather(2).begin() + 6 * days);
}

TEST_CASE("service: the three outcomes have names") {
  CHECK(name_of(Outcome::recovered) == "recovered");
  CHECK(name_of(Outcome::needs_human) == "needs human");
  CHECK(name_of(Outcome::undecided) == "undecided");
}

// --- the span's end

TEST_CASE("service: a wake that crosses the span's end is not counted") {
  Script script(march(1));
  script.wake(1 * hours).due(24 * hours - 10 * second).starts(24 * hours - 10 * second);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.wakes == 1);
  CHECK(r.completed == 1);
  CHECK(r.missed == 0);
  CHECK(r.downtime == 0);
  CHECK(r.brownouts.empty());
}

TEST_CASE("service: an alarm within the last minute that has power but no valid supply yet is not counted") {
  Script script(march(1));
  script.wake(1 * hours).due(24 * hours - 10 * second).at(24 * hours - 10 * second, "logger", "power came");
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.wakes == 1);
  CHECK(r.missed == 0);
  CHECK(r.downtime == 0);
  CHECK(r.brownouts.empty());
}

TEST_CASE("service: an alarm at the very end of the span is not counted") {
  Script script(march(1));
  script.wake(1 * hours).due(24 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.missed == 0);
}

TEST_CASE("service: a long wake that crosses the end is not counted either") {
  Script script(march(1));
  script.wake(1 * hours).due(20 * hours).starts(20 * hours);
  const ServiceRecord r = script.finish();
  CHECK(r.due == 1);
  CHECK(r.wakes == 1);
  CHECK(r.missed == 0);
  CHECK(r.downtime == 0);
}

TEST_CASE("service: an episode that is running at the end has missed its alarm") {
  Script script(march(1));
  script.wake(1 * hours).due(20 * hours).starts(20 * hours).at(20 * hours + second, "logger", "brown-out");
  const ServiceRecord r = script.finish();
  CHECK(r.due == 2);
  CHECK(r.wakes == 2);
  CHECK(r.missed == 1);
  CHECK(r.downtime == 4 * hours);
  REQUIRE(r.brownouts.size() == 1);
  CHECK(r.brownouts.front().end == script.end);
  CHECK(r.brownouts.front().outcome == Outcome::undecided);
}

// --- worst day, worst week

TEST_CASE("service: the worst day is one of the site's standard time") {
  Site site;
  site.utc_offset = Duration{3600 * 5.5};
  Script script(Weather(test::station_year([](std::size_t) { return 0.0; }), site, {2025, 3, 1}, {2025, 3, 3}));
  script.wake(1 * hours).wake(23 * hours);
  script.wake(1 * days + 12 * hours);
  script.wake(2 * days + 1 * hours).wake(2 * days + 2 * hours).wake(2 * days + 23 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.worst_day_wakes);
  CHECK(*r.worst_day_wakes == 1);
  CHECK_FALSE(r.worst_week_wakes);
}

TEST_CASE("service: a wake counts for the day in which it is completed") {
  Script script(march(2));
  script.wake(24 * hours - 10 * second, 20 * second).wake(30 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.worst_day_wakes);
  CHECK(*r.worst_day_wakes == 0);
}

TEST_CASE("service: a span shorter than a day or a week has no worst one") {
  Script short_day(march(1), 1 * days - 1);
  short_day.wake(1 * hours);
  const ServiceRecord d = short_day.finish();
  CHECK_FALSE(d.worst_day_wakes);
  CHECK_FALSE(d.worst_week_wakes);

  Script whole_day(march(1));
  whole_day.wake(1 * hours);
  const ServiceRecord w = whole_day.finish();
  CHECK(w.worst_day_wakes == std::optional<std::size_t>(1));
  CHECK_FALSE(w.worst_week_wakes);

  Script short_week(march(7), 7 * days - 1);
  short_week.wake(1 * hours);
  CHECK_FALSE(short_week.finish().worst_week_wakes);

  Script whole_week(march(7));
  whole_week.wake(1 * hours);
  const ServiceRecord s = whole_week.finish();
  CHECK(s.worst_week_wakes == std::optional<std::size_t>(1));
  CHECK(s.worst_week_begin == whole_week.begin);
}

TEST_CASE("service: a week may begin at any instant") {
  Script script(march(14));
  // Daily at noon but for 5 to 11 March: from after noon on the 4th to before noon on the 12th nothing for 8 days.
  for (int day = 0; day < 14; ++day) {
    if (day < 4 || day > 10) script.wake(day * days + 12 * hours);
  }
  const ServiceRecord r = script.finish();
  CHECK(r.worst_week_wakes == std::optional<std::size_t>(0));
  CHECK(r.worst_week_begin > script.begin + 3 * days + 12 * hours);
  CHECK(r.worst_week_begin + 7 * days <= script.begin + 11 * days + 12 * hours + 30 * second);
}

TEST_CASE("service: worst day and worst week agree with trying every instant") {
  std::mt19937 random(20261125);
  for (int trial = 0; trial < 40; ++trial) {
    CAPTURE(trial);
    const int length = 7 + trial % 15;
    Script script(march(length));
    // Wakes in clusters, on whole minutes, so that trying every minute tries every instant.
    std::uniform_int_distribution<Tick> pause(1, trial % 2 ? 2 * 1440 : 300);
    std::vector<Tick> done;
    for (Tick minute = pause(random); minute * minutes < length * days; minute += pause(random)) {
      script.wake(minute * minutes - 30 * second);
      done.push_back(minute * minutes);
    }
    const auto within = [&](Tick from, Tick to) {
      return static_cast<std::size_t>(
          std::count_if(done.begin(), done.end(), [&](Tick t) { return from <= t && t < to; }));
    };
    std::size_t worst_day = done.size(), worst_week = done.size();
    for (int day = 0; day < length; ++day) worst_day = std::min(worst_day, within(day * days, (day + 1) * days));
    for (Tick from = 0; from + 7 * days <= length * days; from += minutes) {
      worst_week = std::min(worst_week, within(from, from + 7 * days));
      if (from + 1 + 7 * days <= length * days)
        worst_week = std::min(worst_week, within(from + 1, from + 1 + 7 * days));
    }
    const ServiceRecord r = script.finish();
    REQUIRE(r.worst_day_wakes);
    REQUIRE(r.worst_week_wakes);
    CHECK(*r.worst_day_wakes == worst_day);
    CHECK(*r.worst_week_wakes == worst_week);
    const Tick from = r.worst_week_begin - script.begin;
    CHECK(from >= 0);
    CHECK(from + 7 * days <= length * days);
    CHECK(within(from, from + 7 * days) == worst_week);
  }
}

TEST_CASE("service: gap and downtime agree with their definitions on random courses") {
  std::mt19937 random(7);
  std::uniform_int_distribution<int> fate(0, 3);
  std::uniform_int_distribution<Tick> pause(1, 600), late(2, 500);
  for (int trial = 0; trial < 40; ++trial) {
    CAPTURE(trial);
    Script script(march(3));
    std::vector<Tick> ends = {0};
    Tick downtime = 0, now = 0;
    std::size_t brownouts = 0, completed = 0;
    for (;;) {
      const Tick due = now + pause(random) * minutes;
      const bool on_time = fate(random) > 0;
      const Tick start = on_time ? due : due + late(random) * minutes;
      const Tick end = start + 40 * second;
      if (end > 3 * days) break;
      script.due(due).starts(start).completes(end);
      if (!on_time) {
        downtime += start + Script::start_up - due;
        ++brownouts;
      }
      ++completed;
      ends.push_back(end);
      now = end;
    }
    ends.push_back(3 * days);
    Tick longest = 0;
    for (std::size_t i = 1; i < ends.size(); ++i) longest = std::max(longest, ends[i] - ends[i - 1]);
    const ServiceRecord r = script.finish();
    CHECK(r.completed == completed);
    CHECK(r.missed == 0);
    CHECK(r.downtime == downtime);
    CHECK(r.brownouts.size() == brownouts);
    CHECK(r.longest_gap.length() == longest);
    CHECK(r.longest_gap.open == (longest == ends.back() - ends[ends.size() - 2]));
  }
}

TEST_CASE("service: a fault in force is the first link of a brown-out's chain, one that is over is none") {
  Script script(march(2));
  script.at(1 * hours, "panel", "soiled").at(2 * hours, "panel", "soiled over");
  script.due(3 * hours).step(4 * hours).wake(5 * hours);
  script.at(6 * hours, "panel", "soiled").at(7 * hours, "boost", "lockout").due(8 * hours).step(9 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 2);
  CHECK(told(r.brownouts[0]) == Chain{no_supply});
  CHECK(told(r.brownouts[1]) == Chain{"fault: panel soiled", "boost lockout", no_supply});
  CHECK(r.brownouts[1].cause() == "fault: panel soiled");
}

TEST_CASE("service: a fault between an alarm and its grace stands before what the alarm ends in") {
  Script script(march(1));
  script.due(1 * hours).at(1 * hours + 30 * second, "panel", "soiled").step(2 * hours);
  const ServiceRecord r = script.finish();
  REQUIRE(r.brownouts.size() == 1);
  CHECK(told(r.brownouts[0]) == Chain{"fault: panel soiled", "no supply a minute after the alarm came due"});
}
