// The fast stepper and the reference stepper tell the same story, both at the default tolerance: on every shipped
// scenario, on random whole instruments in random weather, and on instruments on which they once did not.
//
// A reset loop is chaotic: a nanovolt decides which of two parts trips first, and the engine steps over most of it at
// its mean rates. So events are compared up to the first failure of a loop that is stepped over; after it the state of
// charge is, and how many wakes were due and completed.
//
// Beside the events that the service is told of, which must come within 10 ms, all others that change something are
// compared. Not those of a part whose contact with a feed held one of the steppers up, for a hundred short steps are a
// matter of the stepper; and not collapses, for whether the net of a dying rail falls or glides down is one too. Their
// times are less sharp: charging ends where a current fades by microamperes a second, so that the charge's tolerance
// alone is some hundredths of a second (measured on the shipped scenarios: at most 0.06 s, 1e-5 s in the median).
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <rapidcheck.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "tests/property/support/course.hpp"
#include "tests/property/support/holds.hpp"
#include "tests/property/support/random_instrument.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
using namespace overwinter::test;
namespace fs = std::filesystem;

namespace {

constexpr double solve_rounding = 1e-11;  // W, what a network solve may leave at a rail of 5 V behind 20 mohm
// s; other events end run-downs of minutes and hours, where a store comes to rest within microvolts.
constexpr double service_apart = 0.01, others_apart = 0.2;
constexpr Tick after_leap = 2 * hour;  // that are still simulated of a random instrument
constexpr int kinds_of_weather = 16;

/// Two lists of events.
struct Lists {
  std::size_t compared = 0;
  double apart = 0;        ///< s, the furthest
  std::string difference;  ///< the first one; empty for none
};

struct Agreement {
  double charge = 0, charge_in_loop = 0;  ///< largest differences at any hour
  Lists service, others;
  double audit = 0;  ///< larger residual of the fast course beyond what a solve leaves, over the throughput
  bool loop = false;
  bool same_wakes = false;  ///< as many due, and as many completed
  std::string given_up;

  bool on_service() const { return service.difference.empty() && service.apart <= service_apart; }
  bool on_others() const { return others.difference.empty() && others.apart <= others_apart; }
  std::string text() const {
    return fmt::format(
        "SoC {:.1e}, in a loop {:.1e}; {} events of the service within {:.1e} s, {} in all within {:.1e} s; "
        "audit {:.1e} {} {}",
        charge, charge_in_loop, service.compared, service.apart, others.compared, others.apart, audit,
        service.difference, others.difference);
  }
};

Lists compare(const std::vector<Told>& a, const std::vector<Told>& b, bool open) {
  Lists l;
  for (; l.compared < std::min(a.size(), b.size()); ++l.compared) {
    const Told &x = a[l.compared], &y = b[l.compared];
    if (x.part != y.part || x.event != y.event) break;
    l.apart = std::max(l.apart, static_cast<double>(std::abs(x.time - y.time)) / ticks_per_second);
  }
  const bool more_a = l.compared < a.size(), more_b = l.compared < b.size();
  if ((more_a && more_b) || (!open && (more_a || more_b))) {
    l.difference =
        (more_a ? a[l.compared].text() : "nothing") + " against " + (more_b ? b[l.compared].text() : "nothing");
  }
  return l;
}

template <class Which>
std::vector<Told> events_of(const Course& c, Which&& which) {
  std::vector<Told> some;
  const Tick until = c.loop();
  std::copy_if(c.all.begin(), c.all.end(), std::back_inserter(some),
               [&](const Told& t) { return t.time < until && which(t); });
  return some;
}

/// How many wakes were due and completed in the first `hours`.
std::pair<std::ptrdiff_t, std::ptrdiff_t> wakes(const Course& c, Tick begin, std::size_t hours) {
  const auto count = [&](EventRole role) {
    return std::count_if(c.all.begin(), c.all.end(),
                         [&](const Told& t) { return t.is(role) && t.time < begin + static_cast<Tick>(hours) * hour; });
  };
  return {count(EventRole::alarm_due), count(EventRole::wake_completed)};
}

/// Both courses end `rest` after their first leap. `strictness`: of the reference's tolerance over the default.
Agreement agreement_of(const Replayed& bench, Tick rest, double strictness = 1) {
  const Diagram& diagram = bench.diagram;
  const Weather& weather = bench.weather;
  const double tolerance = SimulatorOptions{}.tolerance;
  const Course fast = course_of(diagram, weather, Stepping::phases, rest, tolerance),
               slow = course_of(diagram, weather, Stepping::reference, rest, tolerance / strictness);
  Agreement a;
  a.given_up = fast.given_up + slow.given_up;
  const Tick until = std::min(fast.loop(), slow.loop());
  a.loop = until != never;
  const std::size_t hours = std::min(fast.charge.size(), slow.charge.size());
  a.same_wakes = wakes(fast, weather.begin(), hours) == wakes(slow, weather.begin(), hours);
  for (std::size_t i = 0; i < hours; ++i) {
    const bool before = weather.begin() + static_cast<Tick>(i + 1) * hour <= until;
    double& largest = before ? a.charge : a.charge_in_loop;
    largest = std::max(largest, std::abs(fast.charge[i] - slow.charge[i]));
  }
  const bool open = a.loop || !a.given_up.empty();
  const auto serves = [](const Told& t) { return t.serves(); };
  a.service = compare(events_of(fast, serves), events_of(slow, serves), open);
  std::set<const DiagramPart*> held_up;
  for (const Course* c : {&fast, &slow}) {
    for (const Told& t : c->all) {
      if (t.held_up()) held_up.insert(t.part);
    }
  }
  const auto changes = [&](const Told& t) { return t.event && t.event->reset && held_up.count(t.part) == 0; };
  a.others = compare(events_of(fast, changes), events_of(slow, changes), open);
  if (fast.given_up.empty()) {
    const double left = solve_rounding * static_cast<double>(weather.end() - weather.begin()) / ticks_per_second;
    a.audit = std::max({0.0, fast.independent - left, fast.ledger - left}) / fast.moved;
  }
  return a;
}

/// Median, nine tenths and worst.
std::string spread(std::vector<double> numbers) {
  if (numbers.empty()) return "none";
  std::sort(numbers.begin(), numbers.end());
  return fmt::format("median {:.1e}, 90 % {:.1e}, worst {:.1e}", numbers[numbers.size() / 2],
                     numbers[(numbers.size() - 1) * 9 / 10], numbers.back());
}

std::vector<fs::path> shipped_scenarios() {
  std::vector<fs::path> paths;
  for (const auto& entry : fs::recursive_directory_iterator(std::string(OVERWINTER_SOURCE) + "/scenarios")) {
    if (entry.path().extension() == ".yaml" && YAML::LoadFile(entry.path().string())["span"]) {
      paths.push_back(entry.path());
    }
  }
  std::sort(paths.begin(), paths.end());
  return paths;
}

/// Cold to warm, a clear or dull day after another, clouds hour by hour; every fifth without any light.
void write_random_weathers(const Scratch& scratch) {
  for (int kind = 0; kind < kinds_of_weather; ++kind) {
    std::mt19937 random(static_cast<unsigned>(kind));
    const auto share = [&] { return static_cast<double>(random()) / std::mt19937::max(); };
    StationYear year;
    year.place = "Test station";
    year.source_years = {2001};
    const double base = -15 + 45 * share();
    double peak = 0, swing = 0;
    for (std::size_t h = 0; h < hours_per_year; ++h) {
      const double of_day = static_cast<double>(h % 24);
      if (h % 24 == 0) {
        peak = kind % 5 == 0 ? 0 : 1000 * share() * share();
        swing = 15 * share();
      }
      StationRecord r;
      r.air_celsius = base + swing * (std::sin((of_day - 8) * pi / 12) + 0.3 * share());
      r.global_horizontal =
          std::floor(peak * std::max(0.0, std::sin((of_day - 5.5) * pi / 12)) * (0.2 + 0.8 * share()));
      r.diffuse_horizontal = r.global_horizontal;
      year.hours.push_back(r);
    }
    scratch.write(fmt::format("{}.epw", kind), epw_text(year, "TEST", "made by a test", "random weather"));
  }
}

void check(const Agreement& a) {
  CHECK(a.given_up == "");
  CHECK(a.charge <= 1e-4);
  CHECK(a.charge_in_loop <= 1e-4);
  CHECK(a.same_wakes);
  CHECK(a.on_service());
  CHECK(a.on_others());
  CHECK(a.audit <= 1e-8);
}

}  // namespace

TEST_CASE("the fast stepper and the reference stepper agree on every shipped scenario") {
  for (const fs::path& path : shipped_scenarios()) {
    const Agreement a = agreement_of(Replayed(path.string()), never);
    CAPTURE(a.text());
    MESSAGE(path.stem().string());
    check(a);
  }
}

TEST_CASE("they agree on instruments on which they once did not") {
  const Scratch scratch;
  // Weak light into a cut-off pack, hour by hour from five o'clock, W/m2.
  const std::vector<double> weak = {0, 6, 7, 44, 41, 80, 26, 77, 58, 40, 45, 23, 11};
  scratch.write_weather("weak.epw",
                        [&](int h) { return h < 5 || h > 17 ? 0.0 : weak[static_cast<std::size_t>(h - 5)]; });
  scratch.write_weather("dark.epw", [](int) { return 0.0; });
  for (const std::string name : {"small-loads", "weak-light"}) {
    std::ifstream file(std::string(OVERWINTER_SOURCE) + "/tests/property/data/" + name + ".yaml");
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    const Agreement a = agreement_of(Replayed(scratch.write(name + ".yaml", text)), after_leap);
    CAPTURE(a.text());
    MESSAGE(name);
    check(a);
  }
}

// The state of charge in a loop is as good as the leaps: simulated failure by failure, the worst two of these agreed
// within 2e-9 and 9e-6 through 197 468 and 66 359 failures; with leaps it is up to 2e-4 (two of 21 beyond 1e-4).
// A cell that sinks through its protector's threshold in its sleep passes it so slowly that the tolerance is some
// hundredths of a second; there the reference at a hundredth of its tolerance tells (with the seed 1: 35 ms from the
// reference, 1.3 ms from the stricter one).
// In another order are an alarm and a guard that the model itself sets to the same moment (a charge that is over as its
// feed turns weak).
TEST_CASE("they agree on random instruments") {
  const Scratch scratch;
  write_random_weathers(scratch);
  std::vector<double> charge, in_loop, service, others, audit;
  std::size_t runs = 0, given_up = 0, other_order = 0, judged = 0;
  const bool held = holds("pairs of instruments on which the steppers agree", 100, 10, [&] {
    for (int i = 0; i < 2; ++i) {  // RapidCheck tries a hundred cases
      Dice dice = any_dice();
      Netlist netlist = plain_instrument(dice, dice.chance(0.25) ? dice.scale(1, 4) : dice.between(4, 98));
      netlist.to = "2025-03-02";
      netlist.weather = fmt::format("{{file: {}.epw}}", dice.whole(0, kinds_of_weather - 1));
      const std::string text = netlist.text();
      const Replayed bench(scratch.write("random.yaml", text));
      Agreement a = agreement_of(bench, after_leap);
      ++runs;
      if (a.service.difference.empty() && !a.on_service()) {
        MESSAGE(std::string("judged by a stricter reference: " + a.text()));
        ++judged;
        a = agreement_of(bench, after_leap, 100);
      }
      if (!a.given_up.empty()) {
        MESSAGE(a.given_up);
        ++given_up;
      }
      charge.push_back(a.charge);
      service.push_back(a.service.apart);
      others.push_back(a.others.apart);
      audit.push_back(a.audit);
      if (a.loop) in_loop.push_back(a.charge_in_loop);
      RC_LOG(text + a.text());
      RC_ASSERT(a.charge <= 1e-4);
      RC_ASSERT(a.charge_in_loop <= 1e-3);
      RC_ASSERT(a.same_wakes);
      RC_ASSERT(a.on_service());
      RC_ASSERT(a.audit <= 1e-8);
      if (!a.on_others()) {
        MESSAGE(a.text());
        ++other_order;
      }
    }
  });
  MESSAGE(fmt::format("{} instruments, {} with a loop, {} given up, {} with other events in another order", runs,
                      in_loop.size(), given_up, other_order));
  MESSAGE(fmt::format("state of charge: {}; in a loop: {}", spread(charge), spread(in_loop)));
  MESSAGE(fmt::format("events of the service, s: {}; others: {}", spread(service), spread(others)));
  MESSAGE(fmt::format("audit: {}", spread(audit)));
  CHECK(held);
  CHECK(one_of(50, runs, given_up));
  CHECK(one_of(20, runs, other_order));
  CHECK(one_of(50, runs, judged));
  const auto far = std::count_if(in_loop.begin(), in_loop.end(), [](double x) { return x > 1e-4; });
  CHECK(one_of(50, runs, static_cast<std::size_t>(far)));
}
