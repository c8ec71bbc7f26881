// What one run makes of a scenario, to be laid beside another's.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "tests/property/support/sums.hpp"

namespace overwinter::test {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr std::size_t most_happenings = 200000;  // a day has some 150 wakes of some 20; a reset loop more

/// An event of a part, or a collapse (neither).
struct Told {
  Tick time = 0;
  const DiagramPart* part = nullptr;
  const Event* event = nullptr;

  bool is(EventRole role) const { return event && event->role == role; }
  bool serves() const { return event && event->role != EventRole::none; }
  bool failure() const { return is(EventRole::cut) || is(EventRole::brown_out); }
  bool held_up() const { return event && event->held_up; }
  std::string text() const {
    return iso_time(time, 6) + " " + (part ? part->name : "-") + " " + (event ? event->name : "collapse");
  }
};

struct Course {
  std::vector<double> charge;  ///< state of charge at every hour, 0...1
  std::vector<Told> all;
  Tick leap = never;  ///< begin of the first one
  std::size_t leaps = 0;
  double unbalanced = 0;               ///< J, by leaps
  double moved = 0;                    ///< J, through the cell and from the panel
  double ledger = 0, independent = 0;  ///< residuals, J
  std::string given_up;                ///< why

  /// When the loop that the first leap steps over began: its failures come at most ten minutes apart (hiccup.hpp).
  Tick loop() const {
    Tick begin = leap;
    if (leap == never) return begin;
    for (auto t = all.rbegin(); t != all.rend(); ++t) {
      if (t->time > leap || !t->failure()) continue;
      if (begin - t->time > 600 * ticks_per_second) break;
      begin = t->time;
    }
    return begin;
  }
};

class CourseWatcher final : public RunWatcher {
 public:
  /// Throws std::invalid_argument for a diagram without a cell.
  CourseWatcher(const Diagram& diagram, Course& course) : diagram_(diagram), course_(course) {
    for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
      for (const Output& output : diagram.parts()[p].table->outputs) {
        if (output.name != "state_of_charge") continue;
        cell_ = p;
        charge_ = &output;
      }
    }
    if (!charge_) throw std::invalid_argument("no cell to compare the charge of");
  }
  void on_sample(Tick, const double*, Evaluator& system) override {
    course_.charge.push_back(charge_->value(*diagram_.parts()[cell_].model, system.view(cell_)));
  }
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    course_.all.push_back({h.time, h.part, h.event});
    if (course_.all.size() > most_happenings) throw SimulationError(iso_time(h.time, 9) + ": chatter");
  }
  void on_leap(const Leap& leap) override {
    course_.leap = std::min(course_.leap, leap.begin);
    ++course_.leaps;
    course_.unbalanced += leap.unbalanced;
  }

 private:
  const Diagram& diagram_;
  Course& course_;
  std::size_t cell_ = 0;
  const Output* charge_ = nullptr;
};

/// Ends `rest` after the first leap began, to the hour.
inline Course course_of(const Diagram& diagram, const Weather& weather, Stepping stepping, Tick rest,
                        double tolerance) {
  Course course;
  CourseWatcher watcher(diagram, course);
  SimulatorOptions options;
  options.stepping = stepping;
  options.tolerance = tolerance;
  options.sample_every = hour;
  Simulator simulator(diagram, weather, options, &watcher);
  Context c = simulator.start();
  const double stored = simulator.at(c).stored_energy();
  try {
    while (c.now < weather.end() && (course.leap == never || c.now < course.leap + rest)) {
      simulator.advance(c, std::min(weather.end(), c.now + hour));
    }
  } catch (const SimulationError& error) {
    course.given_up = error.what();
    return course;
  }
  const Sums s = sums_of(diagram, c);
  course.moved = s.moved;
  course.ledger = std::abs(s.balance - s.stored);
  course.independent = std::abs(s.balance - (simulator.at(c).stored_energy() - stored) - course.unbalanced);
  return course;
}

}  // namespace overwinter::test
